//! The name, unit and definition of every reading.

use std::sync::LazyLock;

use brunt_engine::thresholds::{
    HIT_CONTRAST_DB, HIT_LEVEL_MS, HIT_PEAK_MS, LOW_MID_HZ, MID_HIGH_HZ, SURROUND_AFTER_MS,
    SURROUND_BEFORE_MS, SUSTAIN_FROM_MS,
};

/// A reading that a user can meet, on the screen or in a file.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Term {
    /// Momentary loudness.
    Momentary,
    /// Short-term loudness.
    ShortTerm,
    /// Integrated loudness.
    Integrated,
    /// Largest momentary loudness.
    MomentaryMax,
    /// Largest short-term loudness.
    ShortTermMax,
    /// Loudness range.
    Range,
    /// True peak.
    TruePeak,
    /// Sample peak.
    SamplePeak,
    /// Peak-to-loudness ratio.
    Plr,
    /// Peak-to-short-term-loudness ratio.
    Psr,
    /// Smallest PSR.
    PsrMin,
    /// Median PSR.
    PsrMedian,
    /// Low band against the curve.
    Low,
    /// Mid band against the curve.
    Mid,
    /// High band against the curve.
    High,
    /// Mid deficit.
    MidDeficit,
    /// Hit contrast, median over hits.
    Contrast,
    /// Hit contrast, 10th percentile.
    ContrastP10,
    /// Hit contrast, 90th percentile.
    ContrastP90,
    /// Number of hits.
    Hits,
    /// Hits that the mix drowns.
    Buried,
    /// Time of one hit.
    HitTime,
    /// True peak of one hit.
    HitTruePeak,
    /// Level of one hit.
    HitLevel,
    /// Level of what surrounds one hit.
    HitBed,
    /// Attack time of one hit.
    HitAttack,
    /// Peak that one hit lost.
    HitLost,
    /// Cost of a leak.
    Cost,
    /// Implied gain reduction, median over hits.
    ImpliedReduction,
    /// Implied gain reduction, 90th percentile.
    ImpliedReductionP90,
    /// Implied gain reduction, largest.
    ImpliedReductionMax,
    /// Level of the ceiling.
    CeilingLevel,
    /// Hits at the ceiling.
    HitsAtCeiling,
    /// Samples that were not a number.
    NanSamples,
    /// Samples that were infinite.
    InfSamples,
    /// Momentary loudness of the side-chain.
    SideMomentary,
    /// Integrated loudness of the side-chain.
    SideIntegrated,
}

impl Term {
    /// Every term, in the order of their declaration.
    pub const ALL: [Self; 37] = [
        Self::Momentary,
        Self::ShortTerm,
        Self::Integrated,
        Self::MomentaryMax,
        Self::ShortTermMax,
        Self::Range,
        Self::TruePeak,
        Self::SamplePeak,
        Self::Plr,
        Self::Psr,
        Self::PsrMin,
        Self::PsrMedian,
        Self::Low,
        Self::Mid,
        Self::High,
        Self::MidDeficit,
        Self::Contrast,
        Self::ContrastP10,
        Self::ContrastP90,
        Self::Hits,
        Self::Buried,
        Self::HitTime,
        Self::HitTruePeak,
        Self::HitLevel,
        Self::HitBed,
        Self::HitAttack,
        Self::HitLost,
        Self::Cost,
        Self::ImpliedReduction,
        Self::ImpliedReductionP90,
        Self::ImpliedReductionMax,
        Self::CeilingLevel,
        Self::HitsAtCeiling,
        Self::NanSamples,
        Self::InfSamples,
        Self::SideMomentary,
        Self::SideIntegrated,
    ];
}

/// Short name of a reading.
#[must_use]
pub const fn term_label(term: Term) -> &'static str {
    match term {
        Term::Momentary => "Momentary",
        Term::ShortTerm => "Short-term",
        Term::Integrated => "Integrated",
        Term::MomentaryMax => "Momentary max",
        Term::ShortTermMax => "Short-term max",
        Term::Range => "Loudness range",
        Term::TruePeak => "True peak",
        Term::SamplePeak => "Sample peak",
        Term::Plr => "PLR",
        Term::Psr => "PSR",
        Term::PsrMin => "PSR min",
        Term::PsrMedian => "PSR median",
        Term::Low => "Low",
        Term::Mid => "Mid",
        Term::High => "High",
        Term::MidDeficit => "Mid deficit",
        Term::Contrast => "Hit contrast",
        Term::ContrastP10 => "Contrast, 10th percentile",
        Term::ContrastP90 => "Contrast, 90th percentile",
        Term::Hits => "Hits",
        Term::Buried => "Buried hits",
        Term::HitTime => "Time",
        Term::HitTruePeak => "Hit peak",
        Term::HitLevel => "Hit level",
        Term::HitBed => "Surroundings",
        Term::HitAttack => "Attack",
        Term::HitLost => "Lost peak",
        Term::Cost => "Cost",
        Term::ImpliedReduction => "Estimated gain reduction",
        Term::ImpliedReductionP90 => "Gain reduction, 90th percentile",
        Term::ImpliedReductionMax => "Gain reduction, max",
        Term::CeilingLevel => "Ceiling",
        Term::HitsAtCeiling => "Hits at the ceiling",
        Term::NanSamples => "NaN samples",
        Term::InfSamples => "Samples too large",
        Term::SideMomentary => "Side-chain momentary",
        Term::SideIntegrated => "Side-chain integrated",
    }
}

/// Unit of a reading; empty for a count.
#[must_use]
pub const fn term_unit(term: Term) -> &'static str {
    match term {
        Term::Momentary
        | Term::ShortTerm
        | Term::Integrated
        | Term::MomentaryMax
        | Term::ShortTermMax
        | Term::HitLevel
        | Term::HitBed
        | Term::SideMomentary
        | Term::SideIntegrated => "LUFS",
        Term::Range => "LU",
        Term::TruePeak | Term::HitTruePeak | Term::CeilingLevel => "dBTP",
        Term::SamplePeak => "dBFS",
        Term::Plr
        | Term::Psr
        | Term::PsrMin
        | Term::PsrMedian
        | Term::Low
        | Term::Mid
        | Term::High
        | Term::MidDeficit
        | Term::Contrast
        | Term::ContrastP10
        | Term::ContrastP90
        | Term::HitLost
        | Term::Cost
        | Term::ImpliedReduction
        | Term::ImpliedReductionP90
        | Term::ImpliedReductionMax => "dB",
        Term::HitTime => "s",
        Term::HitAttack => "ms",
        Term::Hits | Term::Buried | Term::HitsAtCeiling | Term::NanSamples | Term::InfSamples => "",
    }
}

/// What a reading means and where its definition comes from, in one or two sentences.
#[must_use]
pub fn definition(term: Term) -> &'static str {
    // Built once, so that the windows and crossovers come from the engine's constants.
    static TEXTS: LazyLock<[String; Term::ALL.len()]> = LazyLock::new(|| Term::ALL.map(define));
    &TEXTS[term as usize]
}

fn define(term: Term) -> String {
    match term {
        Term::Momentary => {
            "Loudness of the last 400 ms. ITU-R BS.1770-5, EBU Tech 3341.".to_owned()
        }
        Term::ShortTerm => "Loudness of the last 3 s. ITU-R BS.1770-5, EBU Tech 3341.".to_owned(),
        Term::Integrated => "Loudness of the whole pass, quiet passages gated out. \
                             ITU-R BS.1770-5, EBU R 128."
            .to_owned(),
        Term::MomentaryMax => {
            "Largest momentary loudness of what was measured. EBU Tech 3341.".to_owned()
        }
        Term::ShortTermMax => {
            "Largest short-term loudness of what was measured. EBU Tech 3341.".to_owned()
        }
        Term::Range => "Spread of the short-term loudness, from its 10th to its 95th percentile \
                        after gating. EBU Tech 3342."
            .to_owned(),
        Term::TruePeak => "Largest level of the waveform between and at the samples. \
                           ITU-R BS.1770-5, Annex 2."
            .to_owned(),
        Term::SamplePeak => {
            "Largest sample, relative to full scale. It can be below the true peak.".to_owned()
        }
        Term::Plr => "Peak-to-loudness ratio: largest true peak minus integrated loudness. \
                      Common practice."
            .to_owned(),
        Term::Psr => "Peak-to-short-term-loudness ratio: true peak of the last 3 s minus \
                      short-term loudness. Common practice."
            .to_owned(),
        Term::PsrMin => "Smallest PSR, over passages that the integrated loudness \
                         counts."
            .to_owned(),
        Term::PsrMedian => "Median PSR, over passages that the integrated loudness \
                            counts."
            .to_owned(),
        Term::Low => format!(
            "Level below {LOW_MID_HZ:.0} Hz against the long-term curve of commercial tracks \
             (after Elowsson & Friberg 2017), with the mean of the three bands taken out."
        ),
        Term::Mid => format!(
            "Level from {LOW_MID_HZ:.0} Hz to {:.0} kHz against the same curve, with the mean of \
             the three bands taken out.",
            MID_HIGH_HZ / 1_000.0
        ),
        Term::High => format!(
            "Level above {:.0} kHz against the same curve, with the mean of the three bands taken \
             out.",
            MID_HIGH_HZ / 1_000.0
        ),
        Term::MidDeficit => {
            "About the depth of a wide dip near 700 Hz; positive where mids are weak. \
                             Measured from 200 Hz to 1.6 kHz, below the line between 31.5-63 Hz \
                             and 6.3-16 kHz, against the long-term curve (after Elowsson & Friberg 2017)."
                .to_owned()
        }
        Term::Contrast => format!(
            "How far a hit stands out: the level of its loudest 10 ms in the first \
             {HIT_LEVEL_MS:.0} ms, minus that of its surroundings. Those are the \
             {SURROUND_BEFORE_MS:.0} ms before and the {SUSTAIN_FROM_MS:.0} to \
             {SURROUND_AFTER_MS:.0} ms after. K-weighted; median over hits. Our own definition; \
             a change of gain does not change it."
        ),
        Term::ContrastP10 => {
            "10th percentile of the hit contrast: 90 % of hits stand out more than \
                              this."
                .to_owned()
        }
        Term::ContrastP90 => {
            "90th percentile of the hit contrast: 10 % of hits stand out more than \
                              this."
                .to_owned()
        }
        Term::Buried => format!(
            "Hits of the drums that stand out of the mix by less than {HIT_CONTRAST_DB:.0} dB. Known \
             with the drums' part; they count in the contrast at what they have left. Our own \
             definition."
        ),
        Term::Hits => "Onsets strong enough to carry rhythm: drum, strum or pluck. Our own \
                       definition."
            .to_owned(),
        Term::HitTime => "Onset of the hit, from the start of the measurement.".to_owned(),
        Term::HitTruePeak => {
            format!("True peak of the hit's first {HIT_PEAK_MS:.0} ms. ITU-R BS.1770-5, Annex 2.")
        }
        Term::HitLevel => format!(
            "Level of the loudest 10 ms in the hit's first {HIT_LEVEL_MS:.0} ms, K-weighted \
             (ITU-R BS.1770-5)."
        ),
        Term::HitBed => format!(
            "Level around the hit: the {SURROUND_BEFORE_MS:.0} ms before it and the \
             {SUSTAIN_FROM_MS:.0} to {SURROUND_AFTER_MS:.0} ms after, K-weighted \
             (ITU-R BS.1770-5)."
        ),
        Term::HitAttack => "Time from the onset until the hit comes within 3 dB of its strongest \
                            millisecond. Our own definition."
            .to_owned(),
        Term::HitLost => "Peak level that limiting took from the hit, against the unlimited mix \
                          at the same loudness. An estimate; our own definition."
            .to_owned(),
        Term::Cost => "Hit contrast that you would recover if this cause alone were gone, with \
                       its 90 % range. Timing and guitar gain: attack that the parts would recover. \
                       An estimate; our own definition."
            .to_owned(),
        Term::ImpliedReduction => "What a limiter's own gain-reduction meter would show at the \
                                   hits, median over hits. Estimated from the mix alone; \
                                   measured where the mix before the limiter is given."
            .to_owned(),
        Term::ImpliedReductionP90 => {
            "90th percentile: 10 % of hits get more gain reduction than this.".to_owned()
        }
        Term::ImpliedReductionMax => "The largest gain reduction at any hit.".to_owned(),
        Term::CeilingLevel => "The level at which hit peaks line up, wherever it is below \
                               full scale."
            .to_owned(),
        Term::HitsAtCeiling => "Hits that peak at the ceiling.".to_owned(),
        Term::NanSamples => {
            "Samples that were not a number; each was measured as silence.".to_owned()
        }
        Term::InfSamples => "Samples that were infinite or over +60 dBFS, as where a plug-in blows up; each was measured as silence.".to_owned(),
        Term::SideMomentary => {
            "Loudness of the last 400 ms on the side-chain. ITU-R BS.1770-5.".to_owned()
        }
        Term::SideIntegrated => {
            "Loudness of the side-chain since reset, gated. ITU-R BS.1770-5.".to_owned()
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn all_lists_every_term_at_its_own_place() {
        for (place, term) in Term::ALL.into_iter().enumerate() {
            assert_eq!(term as usize, place, "{term:?}");
        }
    }

    #[test]
    fn every_term_has_a_label_and_a_definition_that_ends() {
        for term in Term::ALL {
            assert!(!term_label(term).is_empty());
            assert!(definition(term).ends_with('.'), "{}", definition(term));
            assert!(!definition(term).contains("  "), "{}", definition(term));
        }
    }

    #[test]
    fn windows_come_from_the_engine() {
        assert!(definition(Term::Contrast).contains("400 ms before"));
        assert!(definition(Term::Contrast).contains("first 30 ms"));
        assert!(definition(Term::Mid).contains("200 Hz to 4 kHz"));
    }
}
