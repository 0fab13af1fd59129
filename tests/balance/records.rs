//! The table of finished records that mids and hit contrast are compared with. The records are other
//! people's (Debian packages, named in it); here it is held to what any such table must keep.

use brunt_engine::records::{AmongRecords, PERCENTILES, Percentiles, unusual, weak};
use brunt_engine::thresholds::{MIDS_LEAKING_PERCENT, MIDS_WATCH_PERCENT, records as table};
use brunt_engine::{State, records};
use brunt_lab::corpus::process::equal::{dip, shelves};

use crate::rendered::{all, meter};

/// Rising values, packages with their counts, and a day; a percentile that is found again.
#[test]
fn the_table_rises_and_names_its_source() {
    let of_packages: u32 = table::PACKAGES.iter().map(|(_, count)| count).sum();
    assert_eq!(of_packages, table::RECORDS);
    const { assert!(table::RECORDS >= 100) };
    assert!(table::PACKAGES.iter().all(|(name, count)| !name.is_empty() && *count > 0));
    let day: Vec<u32> =
        table::MEASURED_ON.split('-').map(|part| part.parse().expect("a number")).collect();
    assert!(matches!(day[..], [year, 1..=12, 1..=31] if year >= 2026), "{}", table::MEASURED_ON);
    let named = [
        table::CONTRAST_DB,
        table::PLR_DB,
        table::PSR_MEDIAN_DB,
        table::IMPLIED_REDUCTION_DB,
        table::DIP_DB,
        table::LIFT_DB,
        table::MIDS,
    ];
    for values in named.iter().chain(&table::THIRDS_DB) {
        assert!(values.0.iter().all(|value| value.is_finite()), "{values:?}");
        assert!(values.0.is_sorted(), "{values:?}");
        assert!(values.0[0] < values.0[PERCENTILES - 1], "{values:?}");
    }
    for percent in [10.0, 37.5, 85.0, 95.0] {
        let found = table::CONTRAST_DB.of(table::CONTRAST_DB.at(percent));
        assert!((found - percent).abs() < 1e-9, "{found} for {percent}");
    }
    // No contrast is under what a hit must have, and no peak lies under the loudness of its programme.
    const { assert!(table::CONTRAST_DB.0[0] >= 1.0 && table::PLR_DB.0[0] > 0.0) };
}

/// By construction: where dip and lift are those of the middle record the mids are as weak as that of
/// two alike; and with more of either more records are less weak.
#[test]
fn more_dip_and_more_lift_lie_further_up() {
    let at = |dip: f64, lift: f64| {
        AmongRecords::of(table::DIP_DB.at(dip), table::LIFT_DB.at(lift)).percentile
    };
    assert!((weak(unusual([3.0, 4.0], [&even(), &even()])) - at_even(3.0, 4.0)).abs() < 1e-12);
    for low in [5.0, 30.0, 50.0, 80.0] {
        assert!(at(low, 50.0) <= at(low + 15.0, 50.0), "dip at {low} %");
        assert!(at(50.0, low) <= at(50.0, low + 15.0), "lift at {low} %");
    }
    assert!(at(99.0, 99.0) > MIDS_LEAKING_PERCENT && at(20.0, 20.0) < MIDS_WATCH_PERCENT);
}

/// A spread from 0 to 100 dB, evenly.
fn even() -> Percentiles {
    Percentiles(std::array::from_fn(|step| 5.0 * step as f64))
}

/// Closed form of [`weak`] for two numbers of such a spread: its middle is 50, its 95th percentile 95.
fn at_even(dip: f64, lift: f64) -> f64 {
    let scaled = |db: f64| (db - 50.0) / 45.0;
    (scaled(dip).exp() + scaled(lift).exp()).ln()
}

/// What the meter publishes is what the table gives, state and all, for mixes and their changes.
#[test]
fn the_meter_reads_its_mids_off_the_table() {
    for song in all().iter().take(4) {
        for audio in [song.mix.clone(), dip(&song.mix, 9.0), shelves(&song.mix, 9.0)] {
            let readings = meter(&audio).readings;
            let mids = readings.leaks.mids;
            let among = AmongRecords::of(mids.dip_db.expect("known"), mids.lift_db.expect("known"));
            assert_eq!(mids.percentile, Some(among.percentile), "{}", song.name);
            let state = match among.percentile {
                p if p >= MIDS_LEAKING_PERCENT => State::Leaking,
                p if p >= MIDS_WATCH_PERCENT => State::Watch,
                _ => State::Clear,
            };
            assert_eq!(mids.state, state, "{}: {among:?}", song.name);
            let over = brunt_engine::over_curve_db(&readings.balance.thirds_dbfs);
            let thirds = records::thirds_percentiles(&over);
            for (over, percentile) in over.iter().zip(thirds) {
                assert_eq!(over.is_some(), percentile.is_some());
                assert!(percentile.is_none_or(|share| (0.0..=100.0).contains(&share)));
            }
        }
    }
}
