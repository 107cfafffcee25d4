//! A platform under a constant load while the burner warms it.

use super::bench::Bench;
use super::dialog::Dialog;
use crate::cli::failure::Failure;
use crate::sense::calibration::ScaleCalibration;
use crate::sense::calibration::book::ScaleEntry;
use crate::sense::calibration::drift::{Drift, Sample, learn};

/// Conversions between two looks at the platform's temperature.
const TEMPERATURE_EVERY: u32 = 300;

/// Walks the person through.
///
/// # Errors
/// Where the converter fails, nothing measures the platform's temperature, nothing could be learnt,
/// or the person stops.
pub fn walk(
    bench: &mut dyn Bench,
    dialog: &mut Dialog,
    calibration: &ScaleCalibration,
    minutes: u32,
) -> Result<Drift, Failure> {
    dialog.say(
        "Put a load on the platform that cannot boil away: sealed weights, bricks, a bag of sand",
    );
    dialog.say(
        "on a trivet, about as heavy as a full pot. Never an empty pot or a sealed can: nothing",
    );
    dialog.say(
        "may be heated that can burst, burn or melt. Somebody stays with the flame all the time.",
    );
    dialog.ask("Light the burner as for a simmer, load on, then Enter.")?;
    if bench.platform_c().is_none() {
        return Err(Failure::unavailable(
            "nothing measures the platform's temperature: name a platform sensor in [pot.sensors]",
        ));
    }
    let samples = watch(bench, dialog, calibration, f64::from(minutes) * 60.0)?;
    learn(&samples).map_err(|no| Failure::failed(no.words()))
}

fn watch(
    bench: &mut dyn Bench,
    dialog: &mut Dialog,
    calibration: &ScaleCalibration,
    seconds: f64,
) -> Result<Vec<Sample>, Failure> {
    // The drift that is already known must not hide what is looked for.
    let bare = ScaleCalibration { drift_kg_per_k: 0.0, ..*calibration };
    let (start_s, _) = bench.sample();
    let (mut samples, mut n, mut failed) = (Vec::new(), 0, 0_u32);
    let mut platform_c = bench.platform_c();
    loop {
        let (t_s, counts) = bench.sample();
        n += 1;
        if n % TEMPERATURE_EVERY == 0 {
            platform_c = bench.platform_c().or(platform_c);
            let c = platform_c.unwrap_or(f64::NAN);
            dialog.say(&format!("{:3.0} min, platform {c:.1} °C", (t_s - start_s) / 60.0));
        }
        match (counts, platform_c) {
            (Ok(counts), Some(platform_c)) => {
                failed = 0;
                let load_kg = bare.kg(f64::from(counts.get()), None);
                samples.push(Sample { t_s: t_s - start_s, platform_c, load_kg });
            }
            (Err(fault), _) if failed > 600 => {
                return Err(Failure::unavailable(format!("the scale {fault}")));
            }
            _ => failed += 1,
        }
        if t_s - start_s >= seconds {
            return Ok(samples);
        }
    }
}

/// What was learnt, in words.
#[must_use]
pub fn report(pot: &str, drift: &Drift) -> String {
    format!(
        "Platform of \"{pot}\" from {:.0} to {:.0} °C\nits reading moves by {:+.2} g a kelvin, \
         give or take {:.2} g\nwhat is left over: {:.1} g\n",
        drift.lowest_c,
        drift.highest_c,
        drift.kg_per_k * 1_000.0,
        drift.sd_kg_per_k * 1_000.0,
        drift.left_kg * 1_000.0,
    )
}

/// The calibration with what was learnt, as a new entry of today.
#[must_use]
pub fn with(entry: &ScaleEntry, drift: &Drift, today: &str) -> ScaleEntry {
    ScaleEntry { drift_kg_per_k: drift.kg_per_k, made: today.to_owned(), ..entry.clone() }
}
