//! What the comparison gives does not depend on how the streams are cut into blocks.

use crate::rig::{delayed, programmes, run};
use brunt_engine::SideRole;

#[test]
fn blocks_of_any_size_give_the_same_numbers() {
    let (mix, _) = &programmes()[1];
    let audio = mix.first(5.0).audio;
    let mut main = delayed(&audio, -0.0 + 3_333.5);
    main.gain(1.5);
    main.map(|x| x.clamp(-0.6, 0.6));
    let want = run(&main, &audio, SideRole::Before, 480);
    assert!(want.hits.iter().any(|hit| hit.before_peak_dbtp.is_some()), "hits are compared");
    for block in [1, 17, 64, 1_000, 4_096] {
        let got = run(&main, &audio, SideRole::Before, block);
        assert_eq!(got.hits, want.hits, "blocks of {block}");
        assert_eq!(got.settled, want.settled, "blocks of {block}");
        assert_eq!(got.readings, want.readings, "blocks of {block}");
    }
}
