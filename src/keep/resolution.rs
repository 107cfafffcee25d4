//! How finely a measurement is kept, and therefore judged.
//!
//! A batch that is exported and replayed must give the same happenings as it gave live, so the
//! judgement may not see more live than the store keeps. Every event is brought to the store's grid
//! once, by [`rounded`], on its way from the sensor to the judgement:
//!
//! | measurement | grid | why |
//! |---|---|---|
//! | load | 1 g | a still platform's noise is several grams |
//! | temperature | 0.0001 K | holds the 1/16 K of a DS18B20 and every decimal scale exactly |
//! | pressure | 1 Pa | 8 cm of altitude |
//! | time | 1 ms | [`Moment`](crate::moment::Moment) |
//!
//! A grid point `n` stands for the double nearest to `n / 1000` (kg) or `n / 10000` (°C). IEEE 754
//! division is correctly rounded, so that is the very double that the decimal text `97.9375` is read
//! as, and a value survives being written to a recording and read again.

use crate::quantity::{Celsius, Kilograms, Pascals};
use crate::watch::event::Event;

const PER_KILOGRAM: f64 = 1000.0;
const PER_CELSIUS: f64 = 10_000.0;

/// The event as the store can give it back.
#[must_use]
pub fn rounded(event: Event) -> Event {
    match event {
        Event::Load(Ok(kg)) => Event::Load(Ok(load(load_steps(kg)))),
        Event::Probe(Ok(c)) => Event::Probe(Ok(temperature(temperature_steps(c)))),
        Event::Base(Ok(c)) => Event::Base(Ok(temperature(temperature_steps(c)))),
        Event::Platform(Ok(c)) => Event::Platform(Ok(temperature(temperature_steps(c)))),
        Event::Air(Ok(pa)) => Event::Air(Ok(pressure(pressure_steps(pa)))),
        other => other,
    }
}

/// Whole grams, halves away from zero.
#[must_use]
pub fn load_steps(kg: Kilograms) -> i64 {
    (kg.get() * PER_KILOGRAM).round() as i64
}

/// Whole tenths of a millikelvin on the Celsius scale.
#[must_use]
pub fn temperature_steps(c: Celsius) -> i64 {
    (c.get() * PER_CELSIUS).round() as i64
}

/// Whole pascals.
#[must_use]
pub fn pressure_steps(pa: Pascals) -> i64 {
    pa.get().round() as i64
}

#[must_use]
pub fn load(steps: i64) -> Kilograms {
    Kilograms::new(steps as f64 / PER_KILOGRAM).unwrap_or(Kilograms::ZERO)
}

#[must_use]
pub fn temperature(steps: i64) -> Celsius {
    Celsius::new(steps as f64 / PER_CELSIUS).unwrap_or(Celsius::ZERO)
}

#[must_use]
pub fn pressure(steps: i64) -> Pascals {
    Pascals::new(steps as f64).unwrap_or(Pascals::ZERO)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_reading_of_a_twelve_bit_probe_is_on_the_grid() {
        // DS18B20 data sheet, table 1: the register counts sixteenths of a degree, -55 to +125 °C.
        for sixteenths in -55 * 16..=125 * 16 {
            let c = Celsius::new(f64::from(sixteenths) / 16.0).unwrap();
            assert_eq!(temperature(temperature_steps(c)), c);
        }
    }

    #[test]
    fn a_gram_written_as_decimals_is_read_as_the_same_double() {
        for grams in (-70_000..70_000).step_by(7) {
            let kg = load(grams);
            let text = format!("{:.3}", kg.get());
            assert_eq!(text.parse::<f64>().unwrap(), kg.get(), "{text}");
            assert_eq!(load_steps(kg), grams);
        }
    }

    #[test]
    fn rounding_twice_is_rounding_once() {
        let event = Event::Load(Ok(Kilograms::new(43.473_849).unwrap()));
        let once = rounded(event);
        assert_eq!(once, Event::Load(Ok(Kilograms::new(43.474).unwrap())));
        assert_eq!(rounded(once.clone()), once);
    }
}
