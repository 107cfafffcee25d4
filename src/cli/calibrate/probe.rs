//! A probe in ice water and at the boil.

use super::dialog::Dialog;
use crate::cli::failure::Failure;
use crate::sense::Probe;
use crate::sense::calibration::probe::{ProbeTrim, at_rest, trim};

/// Readings that must agree.
const WINDOW: usize = 20;
/// Readings that a probe is waited for.
const PATIENCE: usize = 600;
/// The step of a probe at 12 bits, °C.
const STEP_C: f64 = 0.0625;

/// Walks the person through; `true_boil_c` is where water boils here and now.
///
/// # Errors
/// Where the probe fails, never rests, reads what a sound probe cannot, or the person stops.
pub fn walk(
    probe: &mut dyn Probe,
    dialog: &mut Dialog,
    rom: &str,
    true_boil_c: f64,
) -> Result<ProbeTrim, Failure> {
    dialog.say(&format!("Trimming the probe {rom}."));
    let ice_c = point(
        probe,
        dialog,
        "Ice: fill a glass with crushed ice, water just to fill the gaps, stir, the tip in the middle \
         (Enter when it is, or skip):",
    )?;
    let boil_c = point(
        probe,
        dialog,
        "Boil: plain water at a rolling boil, the tip 5 cm under and off the base; mind the steam \
         (Enter when it is, or skip):",
    )?;
    trim(ice_c, boil_c, true_boil_c).map_err(|no| Failure::failed(no.words()))
}

fn point(
    probe: &mut dyn Probe,
    dialog: &mut Dialog,
    question: &str,
) -> Result<Option<f64>, Failure> {
    if dialog.ask(question)?.eq_ignore_ascii_case("skip") {
        return Ok(None);
    }
    let mut readings = Vec::new();
    let mut last_fault = None;
    for _ in 0..PATIENCE {
        match probe.read() {
            Ok(celsius) => readings.push(celsius.get()),
            Err(fault) => last_fault = Some(fault),
        }
        if let Some(mean_c) = at_rest(&readings, WINDOW, STEP_C) {
            dialog.say(&format!("Reads {mean_c:.2} °C."));
            return Ok(Some(mean_c));
        }
    }
    match last_fault.filter(|_| readings.len() < WINDOW) {
        Some(fault) => Err(Failure::unavailable(format!("the probe {fault}"))),
        None => {
            Err(Failure::failed("the probe does not come to rest: stir, and wait for the boil"))
        }
    }
}

/// What was learnt, in words.
#[must_use]
pub fn report(rom: &str, trim: ProbeTrim, true_boil_c: f64) -> String {
    let at_boil = (true_boil_c - trim.offset_k) / (1.0 + trim.slope);
    format!(
        "Probe {rom}\nwater boils here and now at {true_boil_c:.2} °C\n\
         correction at 0 °C   {:+.2} °C\ncorrection at boil   {:+.2} °C\n\
         A pressure wrong by 10 hPa moves the boil by 0.3 °C; between the two points the trim is a \
         straight line.\n",
        trim.offset_k,
        true_boil_c - at_boil,
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::quantity::Celsius;
    use crate::reading::{Fault, Reading};
    use std::io;

    /// A probe that creeps to where it is put, and now and then fails.
    struct Slow {
        c: f64,
        to: Vec<f64>,
        reads: u32,
    }

    impl Probe for Slow {
        fn read(&mut self) -> Reading<Celsius> {
            self.reads += 1;
            if self.reads % 250 == 0 && self.to.len() > 1 {
                self.to.remove(0);
            }
            if self.reads % 17 == 0 {
                return Err(Fault::Garbled);
            }
            self.c += (self.to[0] - self.c) * 0.1;
            Celsius::new((self.c * 16.0).round() / 16.0).ok_or(Fault::OutOfRange)
        }
    }

    fn dialog(lines: &'static str) -> Dialog {
        Dialog::new(Box::new(lines.as_bytes()), Box::new(io::sink()))
    }

    #[test]
    fn ice_and_boil_trim_a_probe() {
        let mut ice = Slow { c: 20.0, to: vec![0.25], reads: 0 };
        let got = walk(&mut ice, &mut dialog("\nskip\n"), "28-1", 99.6).unwrap();
        assert!((got.offset_k + 0.25).abs() < 0.1, "{got:?}");
        let mut boil = Slow { c: 20.0, to: vec![98.5], reads: 0 };
        let got = walk(&mut boil, &mut dialog("skip\n\n"), "28-1", 99.6).unwrap();
        assert!((got.offset_k - 1.1).abs() < 0.1, "{got:?}");
        assert!(report("28-1", got, 99.6).contains("99.60 °C"));
    }

    #[test]
    fn a_probe_beside_the_pot_is_refused() {
        let mut cold = Slow { c: 20.0, to: vec![60.0], reads: 0 };
        let refused = walk(&mut cold, &mut dialog("skip\n\n"), "28-1", 99.6).unwrap_err();
        assert!(refused.sentence.contains("rolling boil"));
    }
}
