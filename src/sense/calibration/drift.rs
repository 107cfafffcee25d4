//! How the platform's zero follows its temperature.
//!
//! With a constant load and the burner's heat on, the reading m is regressed on the platform's
//! temperature T and on a course of creep s(t), since a load cell creeps while it warms:
//!
//! ```text
//! m = a + d·(T − T₀) + c·s(t),   s = ln(1 + t/60 s)  or  1 − exp(−t/τ), τ = 1, 2, 5 or 10 min
//! ```
//!
//! How a cell creeps is not known beforehand, and a wrong course would be taken for drift: the course
//! that leaves least over is used, and the others that fit nearly as well ([`AS_WELL`]) say by how much
//! d depends on the choice. That cells creep with a time constant of ten minutes at most is assumed: a
//! slower creep is not told from drift.
//!
//! d is kept only where the platform warmed by at least [`LEAST_K`] and where d is more than three of
//! its standard errors. Neighbouring samples of a warming platform are not independent; the standard
//! error is taken from means of a minute each, and doubled. Cells heat through slowly: a platform
//! that is heated fast may need a second run, and one run at one load cannot tell drift of zero from
//! drift of span.

/// Time constants of creep, s.
const CREEP_S: [f64; 4] = [60.0, 120.0, 300.0, 600.0];
/// A course of creep fits as well as the best where it leaves no more over than this many times.
const AS_WELL: f64 = 1.1;
/// The least warming that says anything, K.
pub const LEAST_K: f64 = 5.0;
/// The least time, s.
pub const LEAST_S: f64 = 900.0;

/// One sample of the run.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sample {
    pub t_s: f64,
    pub platform_c: f64,
    pub load_kg: f64,
}

/// What a run taught.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Drift {
    /// Change of the reading with temperature, kg/K.
    pub kg_per_k: f64,
    /// Its standard error, kg/K.
    pub sd_kg_per_k: f64,
    /// Standard deviation of what the fit leaves over, kg (of a minute's mean).
    pub left_kg: f64,
    pub lowest_c: f64,
    pub highest_c: f64,
}

/// Why a run taught nothing.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum NoDrift {
    /// Under a quarter of an hour.
    TooShort,
    /// Warmed by less than five kelvins.
    TooEven,
    /// The effect is lost in what else moved.
    NotSeen,
}

impl NoDrift {
    #[must_use]
    pub const fn words(self) -> &'static str {
        match self {
            Self::TooShort => "the run was shorter than 15 minutes",
            Self::TooEven => {
                "the platform warmed by less than 5 K: nothing can be learnt from that"
            }
            Self::NotSeen => "no effect of temperature stands out: none is applied",
        }
    }
}

/// Learns the drift from a run with a constant load.
///
/// # Errors
/// [`NoDrift`] where the run does not bear a number out.
pub fn learn(samples: &[Sample]) -> Result<Drift, NoDrift> {
    let minutes = minute_means(samples);
    let (Some(first), Some(last)) = (minutes.first(), minutes.last()) else {
        return Err(NoDrift::TooShort);
    };
    if last.t_s - first.t_s < LEAST_S - 60.0 {
        return Err(NoDrift::TooShort);
    }
    let lowest_c = minutes.iter().map(|m| m.platform_c).fold(f64::INFINITY, f64::min);
    let highest_c = minutes.iter().map(|m| m.platform_c).fold(f64::NEG_INFINITY, f64::max);
    if highest_c - lowest_c < LEAST_K {
        return Err(NoDrift::TooEven);
    }
    let Slope { kg_per_k, error, left_kg } = slope(&minutes, first.t_s).ok_or(NoDrift::NotSeen)?;
    let sd_kg_per_k = 2.0 * error;
    if kg_per_k.abs() < 3.0 * sd_kg_per_k {
        return Err(NoDrift::NotSeen);
    }
    Ok(Drift { kg_per_k, sd_kg_per_k, left_kg, lowest_c, highest_c })
}

fn minute_means(samples: &[Sample]) -> Vec<Sample> {
    samples
        .chunk_by(|a, b| (a.t_s / 60.0).floor() == (b.t_s / 60.0).floor())
        .map(|minute| {
            let n = minute.len() as f64;
            let mean = |of: fn(&Sample) -> f64| minute.iter().map(of).sum::<f64>() / n;
            Sample {
                t_s: mean(|s| s.t_s),
                platform_c: mean(|s| s.platform_c),
                load_kg: mean(|s| s.load_kg),
            }
        })
        .collect()
}

/// The slope on temperature with creep alongside.
#[derive(Debug, Clone, Copy)]
struct Slope {
    kg_per_k: f64,
    /// Its standard error, kg/K.
    error: f64,
    left_kg: f64,
}

/// With the course of creep that leaves least over; its error has what the choice of it does.
fn slope(minutes: &[Sample], start_s: f64) -> Option<Slope> {
    let logarithm = regress(minutes, &|s| (1.0 + (s.t_s - start_s) / 60.0).ln());
    let decays = CREEP_S
        .iter()
        .filter_map(|tau_s| regress(minutes, &|s| 1.0 - (-(s.t_s - start_s) / tau_s).exp()));
    let slopes: Vec<Slope> = logarithm.into_iter().chain(decays).collect();
    let best = *slopes.iter().min_by(|a, b| a.left_kg.total_cmp(&b.left_kg))?;
    let as_well = slopes.iter().filter(|slope| slope.left_kg <= AS_WELL * best.left_kg);
    let apart = as_well.map(|slope| (slope.kg_per_k - best.kg_per_k).abs()).fold(0.0, f64::max);
    Some(Slope { error: best.error.hypot(apart / 2.0), ..best })
}

fn regress(minutes: &[Sample], creep: &dyn Fn(&Sample) -> f64) -> Option<Slope> {
    let n = minutes.len() as f64;
    let mean = |of: &dyn Fn(&Sample) -> f64| minutes.iter().map(of).sum::<f64>() / n;
    let (mx, mz, my) = (mean(&|s| s.platform_c), mean(creep), mean(&|s| s.load_kg));
    let sum = |of: &dyn Fn(f64, f64, f64) -> f64| {
        let terms = minutes.iter().map(|s| of(s.platform_c - mx, creep(s) - mz, s.load_kg - my));
        terms.sum::<f64>()
    };
    let (xx, zz, xz) = (sum(&|x, _, _| x * x), sum(&|_, z, _| z * z), sum(&|x, z, _| x * z));
    let (xy, zy) = (sum(&|x, _, y| x * y), sum(&|_, z, y| z * y));
    let free = xx * zz - xz * xz;
    // Temperature and time went hand in hand: they cannot be told apart.
    if free < 1e-6 * xx * zz || n < 4.0 {
        return None;
    }
    let kg_per_k = (xy * zz - zy * xz) / free;
    let creeps = (zy * xx - xy * xz) / free;
    let left = sum(&|x, z, y| (y - kg_per_k * x - creeps * z).powi(2)) / (n - 3.0);
    Some(Slope { kg_per_k, error: (left * zz / free).sqrt(), left_kg: left.sqrt() })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// An hour in which the platform warms by `warming` K towards its end temperature, with creep of
    /// 10 g and a reading's noise of 4 g.
    fn run(warming: f64, kg_per_k: f64, seconds: u32) -> Vec<Sample> {
        creeping(600.0, warming, kg_per_k, seconds)
    }

    fn creeping(tau_s: f64, warming: f64, kg_per_k: f64, seconds: u32) -> Vec<Sample> {
        let mut state = 9_u64;
        let mut noise = || {
            let mut unit = || {
                state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1);
                (state >> 33) as f64 / (1_u64 << 31) as f64 - 0.5
            };
            (0..12).map(|_| unit()).sum::<f64>() * 0.004
        };
        (0..seconds)
            .map(|t| {
                let t_s = f64::from(t);
                let platform_c = 24.0 + warming * (1.0 - (-t_s / 1_500.0).exp());
                let creep = 0.010 * (1.0 - (-t_s / tau_s).exp());
                let load_kg = 12.0 + kg_per_k * (platform_c - 24.0) + creep + noise();
                Sample { t_s, platform_c, load_kg }
            })
            .collect()
    }

    #[test]
    fn a_warming_platform_teaches_its_drift() {
        let drift = learn(&run(25.0, 0.004, 5_400)).unwrap();
        assert!((drift.kg_per_k - 0.004).abs() < 3.0 * drift.sd_kg_per_k, "{drift:?}");
        assert!((drift.kg_per_k - 0.004).abs() < 0.0006, "{drift:?}");
        assert!(drift.highest_c - drift.lowest_c > 20.0);
    }

    #[test]
    fn drift_is_learnt_however_fast_the_cells_creep() {
        for tau_s in [30.0, 90.0, 200.0, 420.0, 600.0] {
            let drift = learn(&creeping(tau_s, 25.0, 0.004, 5_400)).unwrap();
            let off = (drift.kg_per_k - 0.004).abs();
            assert!(off < 3.0 * drift.sd_kg_per_k && off < 0.0003, "{tau_s} s: {drift:?}");
        }
    }

    #[test]
    fn a_run_that_shows_nothing_changes_nothing() {
        assert_eq!(learn(&run(25.0, 0.004, 600)), Err(NoDrift::TooShort));
        assert_eq!(learn(&run(3.0, 0.004, 3_600)), Err(NoDrift::TooEven));
        assert_eq!(learn(&[]), Err(NoDrift::TooShort));
        let steady: Vec<Sample> = run(25.0, 0.0, 5_400);
        assert_eq!(learn(&steady), Err(NoDrift::NotSeen));
    }
}
