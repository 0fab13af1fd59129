//! The kits: which sample plays which piece.

use super::drums::{Drum, Kit, Source};
use super::notes::Font;
use super::packages::Package;
use super::synth;

use Drum::{
    Clap, Cowbell, Crash, HatClosed, HatOpen, HatPedal, Kick, Ride, SideStick, Snare, TomHigh,
    TomLow, TomMid,
};

/// Names of all kits, in the order of [`kit`].
pub const NAMES: [&str; 15] = [
    "sonic",
    "millo2",
    "millo3",
    "pacific",
    "forzee",
    "pearl",
    "black-pearl",
    "red-zeppelin",
    "gm-standard",
    "gm-power",
    "gm-room",
    "gm-brush",
    "gm-808",
    "electric-empire",
    "hard-electro",
];

/// The kit of that name: one of [`NAMES`], or [`synth::PREFIX`] and a seed.
#[must_use]
pub fn kit(name: &str) -> Option<Kit> {
    if let Some(seed) = name.strip_prefix(synth::PREFIX) {
        let seed = seed.parse().ok()?;
        let pieces = Drum::ALL.map(|drum| (drum, Source::Synth { seed })).to_vec();
        return Some(Kit { name: "synth", acoustic: false, pieces });
    }
    let name = *NAMES.iter().find(|n| **n == name)?;
    let hydrogen = |pieces: &[(Drum, &'static [&'static str])], acoustic| Kit {
        name,
        acoustic,
        pieces: pieces.iter().map(|(d, f)| (*d, Source::Files(Package::Hydrogen, f))).collect(),
    };
    Some(match name {
        "sonic" => Kit {
            name,
            acoustic: true,
            pieces: SONIC.iter().map(|(d, f)| (*d, Source::Files(Package::SonicPi, f))).collect(),
        },
        "millo2" => hydrogen(MILLO2, true),
        "millo3" => hydrogen(MILLO3, true),
        "pacific" => hydrogen(PACIFIC, true),
        "forzee" => hydrogen(FORZEE, true),
        "pearl" => hydrogen(PEARL, true),
        "black-pearl" => font(name, Font::BlackPearl, 0, 0, AVL_KEYS, true),
        "red-zeppelin" => font(name, Font::RedZeppelin, 0, 0, AVL_KEYS, true),
        "gm-standard" => font(name, Font::FluidGm, 128, 0, GM_KEYS, true),
        "gm-power" => font(name, Font::FluidGm, 128, 16, GM_KEYS, true),
        "gm-room" => font(name, Font::FluidGm, 128, 8, GM_KEYS, true),
        "gm-brush" => font(name, Font::FluidGm, 128, 40, GM_KEYS, true),
        "gm-808" => font(name, Font::FluidGm, 128, 25, GM_KEYS, false),
        "electric-empire" => hydrogen(ELECTRIC_EMPIRE, false),
        "hard-electro" => hydrogen(HARD_ELECTRO, false),
        _ => return None,
    })
}

fn font(
    name: &'static str,
    font: Font,
    bank: i32,
    preset: i32,
    keys: &[(Drum, i32)],
    acoustic: bool,
) -> Kit {
    let pieces =
        keys.iter().map(|&(d, key)| (d, Source::Font { font, bank, preset, key })).collect();
    Kit { name, acoustic, pieces }
}

type Table = &'static [(Drum, &'static [&'static str])];

/// General MIDI percussion keys.
const GM_KEYS: &[(Drum, i32)] = &[
    (Kick, 36),
    (SideStick, 37),
    (Snare, 38),
    (Clap, 39),
    (TomLow, 43),
    (HatClosed, 42),
    (HatPedal, 44),
    (HatOpen, 46),
    (TomMid, 47),
    (Crash, 49),
    (TomHigh, 50),
    (Ride, 51),
    (Cowbell, 56),
];

/// Keys of the two kits of avldrums.lv2-soundfont: General MIDI with two toms.
const AVL_KEYS: &[(Drum, i32)] = &[
    (Kick, 36),
    (SideStick, 37),
    (Snare, 38),
    (TomLow, 41),
    (HatClosed, 42),
    (HatPedal, 44),
    (TomMid, 45),
    (HatOpen, 46),
    (Crash, 49),
    (Ride, 51),
];

const SONIC: Table = &[
    (Kick, &["drum_bass_soft.flac", "drum_bass_hard.flac"]),
    (Snare, &["drum_snare_soft.flac", "drum_snare_hard.flac"]),
    (HatClosed, &["drum_cymbal_closed.flac"]),
    (HatPedal, &["drum_cymbal_pedal.flac"]),
    (HatOpen, &["drum_cymbal_open.flac"]),
    (Ride, &["drum_cymbal_soft.flac"]),
    (Crash, &["drum_splash_soft.flac", "drum_splash_hard.flac"]),
    (TomHigh, &["drum_tom_hi_soft.flac", "drum_tom_hi_hard.flac"]),
    (TomMid, &["drum_tom_mid_soft.flac", "drum_tom_mid_hard.flac"]),
    (TomLow, &["drum_tom_lo_soft.flac", "drum_tom_lo_hard.flac"]),
    (Cowbell, &["drum_cowbell.flac"]),
];

const MILLO2: Table = &[
    (
        Kick,
        &[
            "Millo_MultiLayered2/bd_01.flac",
            "Millo_MultiLayered2/bd_02.flac",
            "Millo_MultiLayered2/bd_03.flac",
            "Millo_MultiLayered2/bd_04.flac",
        ],
    ),
    (
        Snare,
        &[
            "Millo_MultiLayered2/jsnare_02.flac",
            "Millo_MultiLayered2/jsnare_03.flac",
            "Millo_MultiLayered2/jsnare_04.flac",
            "Millo_MultiLayered2/jsnare_05.flac",
        ],
    ),
    (SideStick, &["Millo_MultiLayered2/rim_02.flac", "Millo_MultiLayered2/rim_03.flac"]),
    (Clap, &["Millo_MultiLayered2/clap_02.flac"]),
    (
        HatClosed,
        &[
            "Millo_MultiLayered2/hhclosed_02.flac",
            "Millo_MultiLayered2/hhclosed_03.flac",
            "Millo_MultiLayered2/hhclosed_04.flac",
            "Millo_MultiLayered2/hhclosed_05.flac",
        ],
    ),
    (HatOpen, &["Millo_MultiLayered2/hhopen_02.flac", "Millo_MultiLayered2/hhopen_03.flac"]),
    (HatPedal, &["Millo_MultiLayered2/hhpedal_02.flac"]),
    (
        Ride,
        &[
            "Millo_MultiLayered2/ride_02.flac",
            "Millo_MultiLayered2/ride_03.flac",
            "Millo_MultiLayered2/ride_04.flac",
        ],
    ),
    (
        Crash,
        &[
            "Millo_MultiLayered2/crash_03.flac",
            "Millo_MultiLayered2/crash_04.flac",
            "Millo_MultiLayered2/crash_05.flac",
        ],
    ),
    (
        TomMid,
        &[
            "Millo_MultiLayered2/tom_02.flac",
            "Millo_MultiLayered2/tom_03.flac",
            "Millo_MultiLayered2/tom_04.flac",
        ],
    ),
    (
        TomLow,
        &[
            "Millo_MultiLayered2/floortom_02.flac",
            "Millo_MultiLayered2/floortom_03.flac",
            "Millo_MultiLayered2/floortom_04.flac",
        ],
    ),
];

const MILLO3: Table = &[
    (Kick, &["Millo_MultiLayered3/bd_03.flac", "Millo_MultiLayered3/bd_04.flac"]),
    (
        Snare,
        &[
            "Millo_MultiLayered3/sd_03.flac",
            "Millo_MultiLayered3/sd_04.flac",
            "Millo_MultiLayered3/sd_05.flac",
            "Millo_MultiLayered3/sd_06.flac",
            "Millo_MultiLayered3/sd_08.flac",
        ],
    ),
    (SideStick, &["Millo_MultiLayered3/rs_02.flac", "Millo_MultiLayered3/rs_03.flac"]),
    (
        HatClosed,
        &[
            "Millo_MultiLayered3/hh_01.flac",
            "Millo_MultiLayered3/hh_02.flac",
            "Millo_MultiLayered3/hh_03.flac",
            "Millo_MultiLayered3/hh_04.flac",
        ],
    ),
    (HatOpen, &["Millo_MultiLayered3/ho_02.flac", "Millo_MultiLayered3/ho_03.flac"]),
    (HatPedal, &["Millo_MultiLayered3/hh_p.flac"]),
    (
        Ride,
        &[
            "Millo_MultiLayered3/rc_01.flac",
            "Millo_MultiLayered3/rc_02.flac",
            "Millo_MultiLayered3/rc_03.flac",
        ],
    ),
    (
        Crash,
        &[
            "Millo_MultiLayered3/cc_01.flac",
            "Millo_MultiLayered3/cc_02.flac",
            "Millo_MultiLayered3/cc_03.flac",
        ],
    ),
    (TomHigh, &["Millo_MultiLayered3/t1_02.flac", "Millo_MultiLayered3/t1_03.flac"]),
    (TomMid, &["Millo_MultiLayered3/t2_02.flac", "Millo_MultiLayered3/t2_03.flac"]),
    (TomLow, &["Millo_MultiLayered3/ft_02.flac", "Millo_MultiLayered3/ft_03.flac"]),
    (Cowbell, &["Millo_MultiLayered3/mc_cb.flac"]),
];

const PACIFIC: Table = &[
    (
        Kick,
        &[
            "BJA_Pacific/BD_04.aiff",
            "BJA_Pacific/BD_05.aiff",
            "BJA_Pacific/BD_06.aiff",
            "BJA_Pacific/BD_07.aiff",
            "BJA_Pacific/BD_08.aiff",
        ],
    ),
    (
        Snare,
        &[
            "BJA_Pacific/SN_01.aiff",
            "BJA_Pacific/SN_02.aiff",
            "BJA_Pacific/SN_03.aiff",
            "BJA_Pacific/SN_04.aiff",
            "BJA_Pacific/SN_05.aiff",
            "BJA_Pacific/SN_06.aiff",
            "BJA_Pacific/SN_07.aiff",
            "BJA_Pacific/SN_08.aiff",
        ],
    ),
    (
        HatClosed,
        &[
            "BJA_Pacific/HH_02.aiff",
            "BJA_Pacific/HH_03.aiff",
            "BJA_Pacific/HH_04.aiff",
            "BJA_Pacific/HH_05.aiff",
            "BJA_Pacific/HH_06.aiff",
        ],
    ),
    (HatOpen, &["BJA_Pacific/HH3_02.aiff", "BJA_Pacific/HH3_03.aiff", "BJA_Pacific/HH3_04.aiff"]),
    (
        Ride,
        &[
            "BJA_Pacific/RD_02.aiff",
            "BJA_Pacific/RD_03.aiff",
            "BJA_Pacific/RD_04.aiff",
            "BJA_Pacific/RD_05.aiff",
        ],
    ),
    (Crash, &["BJA_Pacific/CB_01.aiff", "BJA_Pacific/CB_02.aiff", "BJA_Pacific/CB_03.aiff"]),
    (
        TomMid,
        &[
            "BJA_Pacific/TM_03.aiff",
            "BJA_Pacific/TM_05.aiff",
            "BJA_Pacific/TM_06.aiff",
            "BJA_Pacific/TM_08.aiff",
        ],
    ),
    (
        TomLow,
        &[
            "BJA_Pacific/TM2_03.aiff",
            "BJA_Pacific/TM2_05.aiff",
            "BJA_Pacific/TM2_06.aiff",
            "BJA_Pacific/TM2_08.aiff",
        ],
    ),
];

const FORZEE: Table = &[
    (
        Kick,
        &[
            "ForzeeStereo/Kick-0.wav",
            "ForzeeStereo/Kick-1.wav",
            "ForzeeStereo/Kick-2.wav",
            "ForzeeStereo/Kick-3.wav",
            "ForzeeStereo/Kick-4.wav",
        ],
    ),
    (
        Snare,
        &[
            "ForzeeStereo/Snare-0.wav",
            "ForzeeStereo/Snare-1.wav",
            "ForzeeStereo/Snare-2.wav",
            "ForzeeStereo/Snare-3.wav",
            "ForzeeStereo/Snare-4.wav",
        ],
    ),
    (SideStick, &["ForzeeStereo/RimClick-1.wav", "ForzeeStereo/RimClick-3.wav"]),
    (
        HatClosed,
        &[
            "ForzeeStereo/HiHatClosed-0.wav",
            "ForzeeStereo/HiHatClosed-1.wav",
            "ForzeeStereo/HiHatClosed-2.wav",
            "ForzeeStereo/HiHatClosed-3.wav",
            "ForzeeStereo/HiHatClosed-4.wav",
        ],
    ),
    (HatOpen, &["ForzeeStereo/HiHatSemiopen-1.wav", "ForzeeStereo/HiHatSemiopen-3.wav"]),
    (HatPedal, &["ForzeeStereo/HiHatFoot-0.wav"]),
    (
        Ride,
        &["ForzeeStereo/RideBow-1.wav", "ForzeeStereo/RideBow-2.wav", "ForzeeStereo/RideBow-3.wav"],
    ),
    (
        Crash,
        &["ForzeeStereo/Crash18-1.wav", "ForzeeStereo/Crash18-2.wav", "ForzeeStereo/Crash18-3.wav"],
    ),
    (
        TomHigh,
        &["ForzeeStereo/TomHigh-1.wav", "ForzeeStereo/TomHigh-3.wav", "ForzeeStereo/TomHigh-4.wav"],
    ),
    (
        TomMid,
        &["ForzeeStereo/TomMid-1.wav", "ForzeeStereo/TomMid-3.wav", "ForzeeStereo/TomMid-4.wav"],
    ),
    (
        TomLow,
        &["ForzeeStereo/TomLow-1.wav", "ForzeeStereo/TomLow-3.wav", "ForzeeStereo/TomLow-4.wav"],
    ),
];

const PEARL: Table = &[
    (
        Kick,
        &[
            "The Black Pearl 1.0/PearlKick-Med.wav",
            "The Black Pearl 1.0/PearlKick-Hard.wav",
            "The Black Pearl 1.0/PearlKick-Hardest.wav",
        ],
    ),
    (
        Snare,
        &[
            "The Black Pearl 1.0/PearlSnare-Softest.wav",
            "The Black Pearl 1.0/PearlSnare-Soft.wav",
            "The Black Pearl 1.0/PearlSnare-Med.wav",
            "The Black Pearl 1.0/PearlSnare-Hard.wav",
            "The Black Pearl 1.0/PearlSnare-Hardest.wav",
        ],
    ),
    (SideStick, &["The Black Pearl 1.0/PearlSideStick-Med.wav"]),
    (
        HatClosed,
        &[
            "The Black Pearl 1.0/SabianHatClosed-Softest.wav",
            "The Black Pearl 1.0/SabianHatClosed-Soft.wav",
            "The Black Pearl 1.0/SabianHatClosed-Med.wav",
            "The Black Pearl 1.0/SabianHatClosed-Hard.wav",
        ],
    ),
    (
        HatOpen,
        &[
            "The Black Pearl 1.0/SabianHatOpen-Soft.wav",
            "The Black Pearl 1.0/SabianHatOpen-Med.wav",
            "The Black Pearl 1.0/SabianHatOpen-Hard.wav",
        ],
    ),
    (
        Ride,
        &[
            "The Black Pearl 1.0/PaisteRide-Soft.wav",
            "The Black Pearl 1.0/PaisteRide-Med.wav",
            "The Black Pearl 1.0/PaisteRide-Hard.wav",
        ],
    ),
    (
        Crash,
        &["The Black Pearl 1.0/SabianCrash-Med.wav", "The Black Pearl 1.0/SabianCrash-Hardest.wav"],
    ),
    (
        TomHigh,
        &["The Black Pearl 1.0/PearlTom1-Soft.wav", "The Black Pearl 1.0/PearlTom1-Hard.wav"],
    ),
    (TomMid, &["The Black Pearl 1.0/PearlTom2-Soft.wav", "The Black Pearl 1.0/PearlTom2-Hard.wav"]),
    (
        TomLow,
        &[
            "The Black Pearl 1.0/PearlTomFloor-Soft.wav",
            "The Black Pearl 1.0/PearlTomFloor-Hard.wav",
        ],
    ),
];

const ELECTRIC_EMPIRE: Table = &[
    (Kick, &["ElectricEmpireKit/EE_Kick_Power.flac"]),
    (Snare, &["ElectricEmpireKit/EE_Snare_2.flac"]),
    (Clap, &["ElectricEmpireKit/EE_Clap.flac"]),
    (HatClosed, &["ElectricEmpireKit/EE_Hat_Cl_Bs.flac"]),
    (HatOpen, &["ElectricEmpireKit/EE_Hat_Op_Dirty.flac"]),
    (TomMid, &["ElectricEmpireKit/EE_Conga_1.flac"]),
    (Crash, &["ElectricEmpireKit/EE_Hat_Op_Phaser.flac"]),
];

const HARD_ELECTRO: Table = &[
    (Kick, &["HardElectro1/PowR_BD_1.flac"]),
    (Snare, &["HardElectro1/PowR_SN_1.flac"]),
    (Clap, &["HardElectro1/Amp_Clap_1.flac"]),
    (HatClosed, &["HardElectro1/Hard_CHH_02.flac"]),
    (HatOpen, &["HardElectro1/Hard_Hse_OHH_1.flac"]),
    (Crash, &["HardElectro1/Hard_Hse_OHH_1.flac"]),
    (TomMid, &["HardElectro1/FX_Chh_01.flac"]),
];
