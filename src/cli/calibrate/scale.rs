//! The walk around the platform: empty, known weights, creep, empty again.

use super::bench::Bench;
use super::dialog::Dialog;
use crate::cli::failure::Failure;
use crate::reading::Fault;
use crate::sense::calibration::book::ScaleEntry;
use crate::sense::calibration::class::{Behaves, behaves};
use crate::sense::calibration::fit::{Fit, Step, fit};

/// Conversions in a window that must hold still.
const WINDOW: usize = 50;
/// Windows that a load is waited for.
const PATIENCE: usize = 24;
/// Conversions that are taken of a load at rest, beyond its last window.
const TAKEN: usize = 150;
/// Water in air by volume, kg/L: 0.998 at 20 °C less the air's lift against steel weights.
const WATER_KG_L: f64 = 0.997;
/// A kitchen measure's own error, as a share (assumed: a kettle's mark is read to 1 %).
const MEASURE_SHARE: f64 = 0.01;
/// How well a weight is known where nothing is said, as a share (a shop's scale, assumed).
const WEIGHT_SHARE: f64 = 0.001;

/// What came of the walk.
#[derive(Debug, Clone, PartialEq)]
pub struct Walked {
    pub fit: Fit,
    /// Largest change under the load that stayed, kg, and over how many minutes.
    pub creep_kg: f64,
    pub creep_minutes: u32,
    pub behaves: Option<Behaves>,
}

/// Walks the person through.
///
/// # Errors
/// Where the converter fails, the load never rests, or the person stops.
pub fn walk(
    bench: &mut dyn Bench,
    dialog: &mut Dialog,
    pot: &str,
    creep_minutes: u32,
) -> Result<Walked, Failure> {
    dialog.say(&format!("Calibrating the platform of \"{pot}\"."));
    dialog.say("It should have been switched on for half an hour, in its place, flame off.");
    dialog
        .ask("Take everything off the platform (a dry kettle for water may stay), then Enter.")?;
    let mut steps = vec![step(bench, dialog, 0.0, 0.0)?];
    let platform_c = bench.platform_c();
    weights(bench, dialog, &mut steps)?;
    let top_kg = steps.iter().map(|step| step.known_kg).fold(0.0, f64::max);
    dialog.ask(&format!("Lift everything off and put the {top_kg:.3} kg on again, then Enter."))?;
    let known_to_kg = steps
        .iter()
        .filter(|step| step.known_kg == top_kg)
        .map(|step| step.known_to_kg)
        .fold(0.0, f64::max);
    steps.push(step(bench, dialog, top_kg, known_to_kg)?);
    dialog.say(&format!("Leave it there for {creep_minutes} min; do not lean on anything."));
    let creep_counts = creep(bench, f64::from(creep_minutes) * 60.0)?;
    dialog.ask("Take everything off again as before, then Enter.")?;
    steps.push(step(bench, dialog, 0.0, 0.0)?);
    let fit = fit(&steps, platform_c).map_err(|no| Failure::failed(no.words()))?;
    let creep_kg = creep_counts / fit.calibration.counts_per_kg.abs();
    let behaves = behaves(&fit, Some(creep_kg));
    Ok(Walked { fit, creep_kg, creep_minutes, behaves })
}

fn weights(
    bench: &mut dyn Bench,
    dialog: &mut Dialog,
    steps: &mut Vec<Step>,
) -> Result<(), Failure> {
    dialog.say("Now known weights, the lightest first, two different ones at least.");
    dialog.say(
        "Write kg (\"10\"), kg and how well they are known (\"10.000 0.002\"), or water (\"5 L\").",
    );
    loop {
        let line = dialog.ask("Weight on the platform, or done:")?;
        if line.eq_ignore_ascii_case("done") {
            if different(steps) >= 2 {
                return Ok(());
            }
            dialog.say("Two different weights are needed at least.");
            continue;
        }
        match weight(&line) {
            Some((kg, known_to_kg)) => steps.push(step(bench, dialog, kg, known_to_kg)?),
            None => dialog.say("That is no weight: write for example 10, or 10.000 0.002, or 5 L."),
        }
    }
}

/// Different weights besides the empty platform.
fn different(steps: &[Step]) -> usize {
    let mut masses: Vec<f64> = steps.iter().map(|s| s.known_kg).filter(|&kg| kg > 0.0).collect();
    masses.sort_by(f64::total_cmp);
    masses.dedup();
    masses.len()
}

/// What a line says: kg, and one standard uncertainty of it, kg.
fn weight(line: &str) -> Option<(f64, f64)> {
    let lower = line.to_lowercase();
    let litres = lower.ends_with('l');
    let bare = lower.trim_end_matches("kg").trim_end_matches('l').trim();
    let mut numbers = bare.split_whitespace().map(|word| word.parse::<f64>().ok());
    let first = numbers.next()??;
    let kg = if litres { first * WATER_KG_L } else { first };
    let share = if litres { MEASURE_SHARE } else { WEIGHT_SHARE };
    let known_to_kg = match numbers.next() {
        Some(told) => told?,
        None => kg * share,
    };
    let fair = (0.05..=1_000.0).contains(&kg) && (0.0..=0.1 * kg).contains(&known_to_kg);
    (fair && numbers.next().is_none()).then_some((kg, known_to_kg))
}

fn step(
    bench: &mut dyn Bench,
    dialog: &mut Dialog,
    known_kg: f64,
    known_to_kg: f64,
) -> Result<Step, Failure> {
    dialog.say("Hands off, please.");
    settle(bench)?;
    let (counts, noise_counts) = spread(&window(bench, TAKEN)?);
    Ok(Step { known_kg, known_to_kg, counts, noise_counts, samples: TAKEN as u32 })
}

/// Waits until two windows agree within their own noise.
fn settle(bench: &mut dyn Bench) -> Result<(), Failure> {
    let mut before = spread(&window(bench, WINDOW)?);
    for _ in 0..PATIENCE {
        let now = spread(&window(bench, WINDOW)?);
        let noise = before.1.min(now.1).max(1.0) * (2.0 / WINDOW as f64).sqrt();
        if (now.0 - before.0).abs() <= 5.0 * noise + 2.0 {
            return Ok(());
        }
        before = now;
    }
    Err(Failure::failed("the load does not come to rest: is something touching the platform?"))
}

/// So many good conversions; a converter that fails more often than it answers is given up.
fn window(bench: &mut dyn Bench, conversions: usize) -> Result<Vec<f64>, Failure> {
    let mut counts = Vec::with_capacity(conversions);
    let mut failed = 0;
    while counts.len() < conversions {
        match bench.sample().1 {
            Ok(number) => counts.push(f64::from(number.get())),
            Err(fault) => {
                failed += 1;
                give_up_after(failed, conversions, fault)?;
            }
        }
    }
    Ok(counts)
}

fn give_up_after(failed: usize, conversions: usize, fault: Fault) -> Result<(), Failure> {
    if failed <= conversions {
        return Ok(());
    }
    Err(Failure::unavailable(format!("the scale {fault}")))
}

/// Mean and standard deviation.
fn spread(values: &[f64]) -> (f64, f64) {
    let n = values.len() as f64;
    let mean = values.iter().sum::<f64>() / n;
    let square = values.iter().map(|value| (value - mean).powi(2)).sum::<f64>();
    (mean, (square / (n - 1.0).max(1.0)).sqrt())
}

/// The largest change of a window's mean over so many seconds, counts.
fn creep(bench: &mut dyn Bench, seconds: f64) -> Result<f64, Failure> {
    let first = spread(&window(bench, 2 * WINDOW)?).0;
    let (start_s, _) = bench.sample();
    let mut largest = 0.0_f64;
    loop {
        let mean = spread(&window(bench, 2 * WINDOW)?).0;
        largest = largest.max((mean - first).abs());
        if bench.sample().0 - start_s >= seconds {
            return Ok(largest);
        }
    }
}

impl Walked {
    /// In words, as the book keeps it.
    #[must_use]
    pub fn words(&self) -> String {
        match self.behaves {
            Some(Behaves { e_kg, max_kg, class, .. }) => {
                format!(
                    "behaves like e = {} up to {max_kg:.0} kg (class {class} limits)",
                    grams(e_kg)
                )
            }
            None => "keeps to no class".to_owned(),
        }
    }

    /// What goes into the book.
    #[must_use]
    pub fn entry(&self, pot: &str, today: &str) -> ScaleEntry {
        ScaleEntry::new(pot, today, &self.fit.calibration, self.words())
    }

    /// The report for the person with the screwdriver.
    #[must_use]
    pub fn report(&self, pot: &str, today: &str) -> String {
        let fit = &self.fit;
        let calibration = &fit.calibration;
        let mut text = format!("Platform of \"{pot}\", {today}\n\n  weight      reads       off\n");
        for (known, error) in &fit.errors {
            let reads = known + error;
            text += &format!("{known:8.3} kg {reads:8.3} kg {:>8}\n", signed_grams(*error));
        }
        let bent = match calibration.curvature_per_kg == 0.0 {
            true => "left as it is",
            false => "corrected",
        };
        let or_unknown = |kg: Option<f64>| kg.map_or("not seen".to_owned(), grams);
        let rows = [
            ("span", format!("{:.1} counts a kg", calibration.counts_per_kg)),
            ("non-linearity", format!("{}, {bent}", grams(fit.non_linearity_kg))),
            ("repeatability", or_unknown(fit.repeatability_kg)),
            ("creep", format!("{} in {} min", grams(self.creep_kg), self.creep_minutes)),
            ("back to zero", fit.zero_return_kg.map_or("not seen".to_owned(), signed_grams)),
            ("noise", format!("{} a conversion", grams(fit.noise_kg))),
            ("weights known to", grams(fit.weights_kg)),
            ("platform at", calibration.at_c.map_or("not known".into(), |c| format!("{c:.1} °C"))),
        ];
        text += "\n";
        rows.iter().for_each(|(name, value)| text += &format!("{name:<18}{value}\n"));
        text + "\n" + &self.verdict()
    }

    fn verdict(&self) -> String {
        let Some(Behaves { e_kg, max_kg, class, limited_by }) = self.behaves else {
            return "This platform keeps to no class of OIML R 76: look for what touches it, a loose \
                    cell, or weights that are not what they are called.\n"
                .to_owned();
        };
        format!(
            "Behaves like e = {} up to {max_kg:.0} kg: it kept within the limits of OIML R 76 class \
             {class} today,\nwith these weights; held back by {}. Creep was watched for {} min, the \
             standard asks 30.\nThis is no verification: nothing may be sold by this scale.\n",
            grams(e_kg),
            limited_by.words(),
            self.creep_minutes,
        )
    }
}

fn grams(kg: f64) -> String {
    let g = kg.abs() * 1_000.0;
    if g < 10.0 { format!("{g:.1} g") } else { format!("{g:.0} g") }
}

fn signed_grams(kg: f64) -> String {
    let sign = if kg < 0.0 { '-' } else { '+' };
    format!("{sign}{}", grams(kg))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn weights_are_read_as_people_write_them() {
        assert_eq!(weight("10"), Some((10.0, 0.01)));
        assert_eq!(weight("10.5 kg"), Some((10.5, 0.0105)));
        assert_eq!(weight("10.000 0.002"), Some((10.0, 0.002)));
        let (kg, to) = weight("5 L").unwrap();
        assert!((kg - 4.985).abs() < 1e-9 && (to - 0.04985).abs() < 1e-9);
        for bad in ["", "ten", "-3", "0", "1e9", "10 9", "1 2 3", "nan", "inf"] {
            assert_eq!(weight(bad), None, "{bad}");
        }
    }

    #[test]
    fn grams_are_as_fine_as_they_are_known() {
        assert_eq!((grams(0.0042), grams(0.042)), ("4.2 g".to_owned(), "42 g".to_owned()));
        assert_eq!(signed_grams(-0.012), "-12 g");
    }
}
