//! Figures and their table.

/// Rows of what was measured beside what was asked.
pub struct Table {
    rows: Vec<(String, String, String)>,
}

impl Table {
    pub fn new() -> Self {
        Self { rows: Vec::new() }
    }

    pub fn row(&mut self, what: &str, unit: &str, value: f64, bar: &str) {
        self.rows.push((what.to_owned(), format!("{value:.2} {unit}"), bar.to_owned()));
    }

    pub fn print(&self) {
        let width = self.rows.iter().map(|(what, ..)| what.len()).max().unwrap_or(0);
        println!("{:<width$}  {:>10}  asked for", "", "measured");
        for (what, value, bar) in &self.rows {
            println!("{what:<width$}  {value:>10}  {bar}");
        }
    }
}

/// Percentile `q` (0 to 1) by linear interpolation; not a number of nothing.
pub fn percentile(values: &[f64], q: f64) -> f64 {
    if values.is_empty() {
        return f64::NAN;
    }
    brunt_lab::corpus::ceiling::quantile(values.to_vec(), q)
}

/// Share of those that `are`, percent; not a number of nothing.
pub fn share<T>(all: impl Iterator<Item = T>, are: impl Fn(T) -> bool) -> f64 {
    let (mut count, mut yes) = (0u32, 0u32);
    for one in all {
        count += 1;
        yes += u32::from(are(one));
    }
    100.0 * f64::from(yes) / f64::from(count)
}

/// Spearman's rank correlation, equal values on their mean rank; `None` where either is constant.
pub fn spearman(a: &[f64], b: &[f64]) -> Option<f64> {
    let (a, b) = (ranks(a), ranks(b));
    let mean = (a.len() as f64 + 1.0) / 2.0;
    let cov =
        |a: &[f64], b: &[f64]| a.iter().zip(b).map(|(a, b)| (a - mean) * (b - mean)).sum::<f64>();
    let r = cov(&a, &b) / (cov(&a, &a) * cov(&b, &b)).sqrt();
    r.is_finite().then_some(r)
}

fn ranks(values: &[f64]) -> Vec<f64> {
    values
        .iter()
        .map(|v| {
            // Differences under a hundredth of a decibel are none.
            let under = values.iter().filter(|w| **w < v - 0.01).count() as f64;
            let same = values.iter().filter(|w| (**w - v).abs() <= 0.01).count() as f64;
            under + (same + 1.0) / 2.0
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Worked example: one exchange of neighbours among five, 1 - 6 * 2 / (5 * 24).
    #[test]
    fn spearman_of_one_exchange() {
        let r = spearman(&[1.0, 2.0, 3.0, 4.0, 5.0], &[1.0, 3.0, 2.0, 4.0, 5.0]);
        assert!((r.unwrap_or(0.0) - 0.9).abs() < 1e-12);
        assert_eq!(spearman(&[1.0, 1.0], &[1.0, 2.0]), None);
    }
}
