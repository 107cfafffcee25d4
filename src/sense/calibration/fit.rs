//! Span and curvature from weights that are known, and how well they were reproduced.
//!
//! Least squares of the known masses against the counts, u = (c − c_mean)/c_range:
//!
//! ```text
//! m = α₀ + α₁·u + α₂·u²
//! ```
//!
//! α₂ is kept only where at least four different masses were used (the empty platform is one) and it
//! is more than three of its own standard errors; else the platform is taken as straight and what is
//! left over is stated as non-linearity.

use super::ScaleCalibration;

/// One load at rest on the platform.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Step {
    /// The mass, kg; 0 for the empty platform.
    pub known_kg: f64,
    /// How well it is known (one standard uncertainty), kg.
    pub known_to_kg: f64,
    /// Mean of the conversions.
    pub counts: f64,
    /// Standard deviation of single conversions.
    pub noise_counts: f64,
    pub samples: u32,
}

/// How a platform did in its calibration.
#[derive(Debug, Clone, PartialEq)]
pub struct Fit {
    pub calibration: ScaleCalibration,
    /// Largest departure from a straight line through the empty platform and the heaviest weight, kg.
    pub non_linearity_kg: f64,
    /// Each step's mass and the error of the reading after the fit, kg.
    pub errors: Vec<(f64, f64)>,
    /// Largest difference between readings of the same load, kg; `None` where none was repeated.
    pub repeatability_kg: Option<f64>,
    /// Reading of the last empty platform less the first, kg; `None` where it was empty once.
    pub zero_return_kg: Option<f64>,
    /// Standard deviation of single conversions at rest, kg: the worst step.
    pub noise_kg: f64,
    /// Largest uncertainty of the weights used, kg.
    pub weights_kg: f64,
}

/// Why no calibration could be made of the steps.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum NoFit {
    /// Fewer than two different masses besides the empty platform.
    TooFewLoads,
    /// The empty platform is not among them.
    NoEmpty,
    /// More weight did not give more counts (or always fewer): a cell is loose or wired wrongly.
    NotMonotonic,
}

impl NoFit {
    #[must_use]
    pub const fn words(self) -> &'static str {
        match self {
            Self::TooFewLoads => "at least two different known weights are needed",
            Self::NoEmpty => "the empty platform must be one of the loads",
            Self::NotMonotonic => {
                "more weight did not move the counts steadily one way: look for a cell that is \
                 loose, touching its frame, or wired the wrong way round"
            }
        }
    }
}

/// Masses nearer than this are the same load, kg.
const SAME_KG: f64 = 0.005;

/// Fits a platform to its steps, in the order in which they were made.
///
/// # Errors
/// [`NoFit`] where the steps do not determine a calibration.
pub fn fit(steps: &[Step], platform_c: Option<f64>) -> Result<Fit, NoFit> {
    let masses = distinct_masses(steps);
    if !masses.first().is_some_and(|&m| m < SAME_KG) {
        return Err(NoFit::NoEmpty);
    }
    if masses.len() < 3 {
        return Err(NoFit::TooFewLoads);
    }
    monotonic(steps, &masses)?;
    let top_kg = masses[masses.len() - 1];
    let straight = calibration(steps, top_kg, platform_c, false);
    let curved =
        (masses.len() >= 4).then(|| calibration(steps, top_kg, platform_c, true)).flatten();
    let calibration = curved.or(straight).ok_or(NoFit::NotMonotonic)?;
    Ok(report(steps, calibration))
}

fn distinct_masses(steps: &[Step]) -> Vec<f64> {
    let mut masses: Vec<f64> = steps.iter().map(|step| step.known_kg).collect();
    masses.sort_by(f64::total_cmp);
    masses.dedup_by(|a, b| (*a - *b).abs() < SAME_KG);
    masses
}

fn mean_counts(steps: &[Step], kg: f64) -> f64 {
    let same: Vec<f64> =
        steps.iter().filter(|s| (s.known_kg - kg).abs() < SAME_KG).map(|s| s.counts).collect();
    same.iter().sum::<f64>() / same.len() as f64
}

fn monotonic(steps: &[Step], masses: &[f64]) -> Result<(), NoFit> {
    let counts: Vec<f64> = masses.iter().map(|&kg| mean_counts(steps, kg)).collect();
    let rises = counts.windows(2).all(|pair| pair[1] - pair[0] > 1.0);
    let falls = counts.windows(2).all(|pair| pair[0] - pair[1] > 1.0);
    if rises || falls { Ok(()) } else { Err(NoFit::NotMonotonic) }
}

fn calibration(
    steps: &[Step],
    top_kg: f64,
    at_c: Option<f64>,
    curved: bool,
) -> Option<ScaleCalibration> {
    let middle = steps.iter().map(|s| s.counts).sum::<f64>() / steps.len() as f64;
    let range = mean_counts(steps, top_kg) - mean_counts(steps, 0.0);
    let points: Vec<(f64, f64)> =
        steps.iter().map(|s| ((s.counts - middle) / range, s.known_kg)).collect();
    let [a0, a1, a2] = polynomial(&points, if curved { 3 } else { 2 })?;
    if curved && !significant(&points, [a0, a1, a2]) {
        return None;
    }
    let root = |kg: f64| invert(a0 - kg, a1, a2);
    let (zero, top) = (root(0.0)?, root(top_kg)?);
    let kg_per_u = top_kg / (top - zero);
    Some(ScaleCalibration {
        zero_counts: middle + zero * range,
        counts_per_kg: range / kg_per_u,
        curvature_per_kg: a2 / (kg_per_u * kg_per_u),
        top_kg,
        at_c,
        drift_kg_per_k: 0.0,
    })
}

/// The root of a + b·u + c·u² that is the straight line's where c is small.
fn invert(a: f64, b: f64, c: f64) -> Option<f64> {
    let under = b * b - 4.0 * a * c;
    let root = -2.0 * a / (b + under.sqrt() * b.signum());
    root.is_finite().then_some(root)
}

/// Whether α₂ is more than three standard errors; with no point to spare it cannot be said.
fn significant(points: &[(f64, f64)], alpha: [f64; 3]) -> bool {
    let spare = points.len().saturating_sub(3);
    let left: f64 =
        points.iter().map(|&(u, m)| (m - alpha[0] - alpha[1] * u - alpha[2] * u * u).powi(2)).sum();
    let Some(unit) = normal(points, 3).and_then(|(matrix, _)| solve(matrix, [0.0, 0.0, 1.0], 3))
    else {
        return false;
    };
    spare > 0 && alpha[2].abs() > 3.0 * (unit[2] * left / spare as f64).sqrt()
}

/// Least-squares coefficients of 1, u, u²; the last is 0 with two terms.
fn polynomial(points: &[(f64, f64)], terms: usize) -> Option<[f64; 3]> {
    let (matrix, right) = normal(points, terms)?;
    solve(matrix, right, terms)
}

type Normal = ([[f64; 3]; 3], [f64; 3]);

fn normal(points: &[(f64, f64)], terms: usize) -> Option<Normal> {
    let (mut matrix, mut right) = ([[0.0; 3]; 3], [0.0; 3]);
    for &(u, m) in points {
        let powers = [1.0, u, u * u];
        for row in 0..terms {
            right[row] += powers[row] * m;
            for column in 0..terms {
                matrix[row][column] += powers[row] * powers[column];
            }
        }
    }
    (points.len() >= terms).then_some((matrix, right))
}

/// Gauss's elimination; `None` where the matrix is singular.
fn solve(mut matrix: [[f64; 3]; 3], mut right: [f64; 3], terms: usize) -> Option<[f64; 3]> {
    for pivot in 0..terms {
        if matrix[pivot][pivot].abs() < 1e-12 {
            return None;
        }
        for row in pivot + 1..terms {
            let factor = matrix[row][pivot] / matrix[pivot][pivot];
            let above = matrix[pivot];
            for (value, above) in matrix[row].iter_mut().zip(above) {
                *value -= factor * above;
            }
            right[row] -= factor * right[pivot];
        }
    }
    let mut x = [0.0; 3];
    for row in (0..terms).rev() {
        let known: f64 = (row + 1..terms).map(|column| matrix[row][column] * x[column]).sum();
        x[row] = (right[row] - known) / matrix[row][row];
    }
    Some(x)
}

fn report(steps: &[Step], calibration: ScaleCalibration) -> Fit {
    let read = |step: &Step| calibration.kg(step.counts, None);
    let kg_per_count = 1.0 / calibration.counts_per_kg.abs();
    let empty: Vec<f64> = steps.iter().filter(|s| s.known_kg < SAME_KG).map(read).collect();
    Fit {
        non_linearity_kg: non_linearity(steps, calibration.top_kg),
        errors: steps.iter().map(|s| (s.known_kg, read(s) - s.known_kg)).collect(),
        repeatability_kg: repeatability(steps, read),
        zero_return_kg: (empty.len() > 1).then(|| empty[empty.len() - 1] - empty[0]),
        noise_kg: largest(steps.iter().map(|s| s.noise_counts)) * kg_per_count,
        weights_kg: largest(steps.iter().map(|s| s.known_to_kg)),
        calibration,
    }
}

fn non_linearity(steps: &[Step], top_kg: f64) -> f64 {
    let zero = mean_counts(steps, 0.0);
    let span = (mean_counts(steps, top_kg) - zero) / top_kg;
    largest(distinct_masses(steps).iter().map(|&kg| {
        let line = (mean_counts(steps, kg) - zero) / span;
        (line - kg).abs()
    }))
}

fn repeatability(steps: &[Step], read: impl Fn(&Step) -> f64) -> Option<f64> {
    let masses = distinct_masses(steps);
    let spreads = masses.iter().filter(|&&kg| kg > SAME_KG).filter_map(|&kg| {
        let same = steps.iter().filter(|s| (s.known_kg - kg).abs() < SAME_KG);
        let readings: Vec<f64> = same.map(&read).collect();
        let lowest = readings.iter().copied().fold(f64::INFINITY, f64::min);
        (readings.len() > 1).then(|| largest(readings.iter().map(|r| r - lowest)))
    });
    spreads.reduce(f64::max)
}

fn largest(values: impl Iterator<Item = f64>) -> f64 {
    values.fold(0.0, f64::max)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn step(kg: f64, counts: f64) -> Step {
        Step { known_kg: kg, known_to_kg: 0.002, counts, noise_counts: 20.0, samples: 300 }
    }

    /// A platform with 10,740 counts a kilogram and `bend` kg of departure at half of 30 kg.
    fn platform(kg: f64, bend: f64) -> f64 {
        -55_000.0 + 10_740.0 * (kg + 4.0 * bend * kg * (30.0 - kg) / 900.0)
    }

    #[test]
    fn two_weights_give_the_span_of_a_straight_platform() {
        let steps: Vec<Step> =
            [0.0, 10.0, 30.0, 0.0].iter().map(|&kg| step(kg, platform(kg, 0.0))).collect();
        let fit = fit(&steps, Some(24.0)).unwrap();
        assert!((fit.calibration.counts_per_kg - 10_740.0).abs() < 1e-6);
        assert!((fit.calibration.zero_counts + 55_000.0).abs() < 1e-6);
        assert_eq!(fit.calibration.curvature_per_kg, 0.0);
        assert_eq!(fit.calibration.at_c, Some(24.0));
        assert!(fit.errors.iter().all(|(_, error)| error.abs() < 1e-9));
    }

    #[test]
    fn a_bridge_wired_the_other_way_round_still_weighs() {
        let steps: Vec<Step> =
            [0.0, 10.0, 20.0].iter().map(|&kg| step(kg, -platform(kg, 0.0))).collect();
        let fit = fit(&steps, None).unwrap();
        assert!((fit.calibration.kg(-platform(7.0, 0.0), None) - 7.0).abs() < 1e-9);
        assert!(fit.noise_kg > 0.0);
    }

    #[test]
    fn a_bent_platform_is_straightened_by_enough_weights() {
        let masses = [0.0, 5.0, 10.0, 20.0, 30.0, 30.0, 0.0];
        let steps: Vec<Step> = masses.iter().map(|&kg| step(kg, platform(kg, 0.020))).collect();
        let fit = fit(&steps, None).unwrap();
        assert!(fit.non_linearity_kg > 0.017 && fit.non_linearity_kg < 0.0201);
        assert!(fit.errors.iter().all(|(_, error)| error.abs() < 0.0005), "{:?}", fit.errors);
        assert!((fit.calibration.kg(platform(15.0, 0.020), None) - 15.0).abs() < 0.0005);
    }

    #[test]
    fn noise_is_not_taken_for_curvature() {
        let masses = [0.0, 5.0, 10.0, 20.0, 30.0, 0.0];
        let noise = [30.0, -40.0, 25.0, -35.0, 40.0, -20.0];
        let steps: Vec<Step> =
            masses.iter().zip(noise).map(|(&kg, n)| step(kg, platform(kg, 0.0) + n)).collect();
        assert_eq!(fit(&steps, None).unwrap().calibration.curvature_per_kg, 0.0);
    }

    #[test]
    fn repeats_and_the_return_to_zero_are_stated() {
        let steps = [
            step(0.0, 0.0),
            step(10.0, 100_000.0),
            step(20.0, 200_000.0),
            step(20.0, 200_150.0),
            step(20.0, 199_950.0),
            step(0.0, 80.0),
        ];
        let fit = fit(&steps, None).unwrap();
        assert!((fit.repeatability_kg.unwrap() - 0.020).abs() < 1e-4);
        assert!((fit.zero_return_kg.unwrap() - 0.008).abs() < 1e-4);
        assert_eq!(fit.weights_kg, 0.002);
    }

    #[test]
    fn what_cannot_be_fitted_says_why() {
        let error = |steps: &[Step]| fit(steps, None).unwrap_err();
        assert_eq!(error(&[]), NoFit::NoEmpty);
        assert_eq!(error(&[step(5.0, 0.0), step(9.0, 1.0)]), NoFit::NoEmpty);
        assert_eq!(error(&[step(0.0, 0.0), step(9.0, 900.0)]), NoFit::TooFewLoads);
        let back = [step(0.0, 0.0), step(5.0, 900.0), step(9.0, 700.0)];
        assert_eq!(error(&back), NoFit::NotMonotonic);
        assert_eq!(error(&[step(0.0, 5.0), step(5.0, 5.0), step(9.0, 5.0)]), NoFit::NotMonotonic);
    }
}
