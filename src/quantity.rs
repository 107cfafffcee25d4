//! Quantities that cross rooms: a finite number with its SI unit in its type.
//!
//! Inside a formula a plain `f64` with the unit in its name is clearer; at the border of a room a
//! type keeps NaN, infinity and swapped arguments out.

use std::fmt;

macro_rules! quantity {
    ($(#[$doc:meta])* $name:ident, $unit:literal, $decimals:literal) => {
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, PartialOrd)]
        pub struct $name(f64);

        impl $name {
            pub const ZERO: Self = Self(0.0);

            /// `None` where `value` is not a finite number.
            #[must_use]
            pub const fn new(value: f64) -> Option<Self> {
                if value.is_finite() { Some(Self(value)) } else { None }
            }

            /// The number, in the unit of the type.
            #[must_use]
            pub const fn get(self) -> f64 {
                self.0
            }
        }

        impl fmt::Display for $name {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                write!(f, concat!("{:.", $decimals, "} ", $unit), self.0)
            }
        }
    };
}

quantity! {
    /// A mass in kilograms.
    Kilograms, "kg", "3"
}
quantity! {
    /// A temperature in degrees Celsius.
    Celsius, "°C", "2"
}
quantity! {
    /// A pressure in pascals.
    Pascals, "Pa", "0"
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_quantity_is_never_nan_or_infinite() {
        assert_eq!(Kilograms::new(f64::NAN), None);
        assert_eq!(Celsius::new(f64::INFINITY), None);
        assert_eq!(Pascals::new(101_325.0).map(Pascals::get), Some(101_325.0));
    }

    #[test]
    fn a_quantity_says_its_unit() {
        assert_eq!(Celsius::new(97.9375).unwrap().to_string(), "97.94 °C");
    }
}
