//! Kitchen measures: how a cook says how much.
//!
//! | measure | is | source |
//! |---|---|---|
//! | kg, g, l, ml | as they are | SI |
//! | lb, oz | 453.592 37 g, a sixteenth of it | international yard and pound agreement, 1959; UK Weights and Measures Act 1985, Sch. 1 |
//! | pint, UK pint | 568.261 25 ml: an eighth of 4.546 09 l | UK Weights and Measures Act 1985, Sch. 1 |
//! | US pint | 473.176 473 ml: an eighth of 231 cubic inches | NIST Handbook 44, appendix C |
//! | cup, US cup | 236.588 236 5 ml: half a US pint, the cup of the USDA's weights | the same |
//! | metric cup | 250 ml | common practice |
//! | tablespoon, teaspoon | 15 ml, 5 ml | metric; the US ones are 14.79 and 4.93 |
//! | pieces | by the weight of one | the ingredient's own |
//!
//! A measure of volume becomes a mass only through what is measured: see
//! [`super::ingredient::Ingredient::kg`].

use std::fmt;

pub const POUND_G: f64 = 453.592_37;
pub const OUNCE_G: f64 = POUND_G / 16.0;
pub const UK_PINT_ML: f64 = 568.261_25;
pub const US_PINT_ML: f64 = 473.176_473;
pub const US_CUP_ML: f64 = 236.588_236_5;
pub const METRIC_CUP_ML: f64 = 250.0;
pub const TABLESPOON_ML: f64 = 15.0;
pub const TEASPOON_ML: f64 = 5.0;

/// The measures that are understood, as a list to be read.
pub const UNDERSTOOD: &str = "kg, g, lb, oz, l, ml, pint (UK), US pint, cup (US), metric cup, tbsp, tsp \
                              or pieces, such as \"2.5 kg\", \"1 1/2 tsp\" or \"3 medium\"";

/// The unit of an amount.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Unit {
    Kilogram,
    Gram,
    Pound,
    Ounce,
    Litre,
    Millilitre,
    UkPint,
    UsPint,
    UsCup,
    MetricCup,
    Tablespoon,
    Teaspoon,
    Piece,
}

/// What a unit is a measure of.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Kind {
    /// g in one.
    Mass(f64),
    /// ml in one.
    Volume(f64),
    Count,
}

/// Each way of writing a unit, in lower case.
const WRITTEN: [(Unit, &[&str]); 13] = [
    (Unit::Kilogram, &["kg", "kilo", "kilos", "kilogram", "kilograms"]),
    (Unit::Gram, &["g", "gr", "gram", "grams"]),
    (Unit::Pound, &["lb", "lbs", "pound", "pounds"]),
    (Unit::Ounce, &["oz", "ounce", "ounces"]),
    (Unit::Litre, &["l", "litre", "litres", "liter", "liters"]),
    (Unit::Millilitre, &["ml", "millilitre", "millilitres", "milliliter", "milliliters"]),
    (Unit::UkPint, &["pint", "pints", "uk pint", "uk pints", "pt"]),
    (Unit::UsPint, &["us pint", "us pints"]),
    (Unit::UsCup, &["cup", "cups", "us cup", "us cups"]),
    (Unit::MetricCup, &["metric cup", "metric cups"]),
    (Unit::Tablespoon, &["tbsp", "tbsps", "tablespoon", "tablespoons"]),
    (Unit::Teaspoon, &["tsp", "tsps", "teaspoon", "teaspoons"]),
    (Unit::Piece, &["piece", "pieces", "pc", "pcs"]),
];

/// Words that size a piece or name it: three medium, two cloves, a bunch of nine sprigs.
const PIECES: [&str; 10] =
    ["medium", "large", "small", "clove", "cloves", "sprig", "sprigs", "whole", "slice", "slices"];

impl Unit {
    /// The unit written so, in any case.
    #[must_use]
    pub fn by_name(name: &str) -> Option<Self> {
        let name = name.trim().to_lowercase();
        let found = WRITTEN.iter().find(|(_, ways)| ways.contains(&name.as_str()));
        found.map(|(unit, _)| *unit)
    }

    #[must_use]
    pub const fn kind(self) -> Kind {
        match self {
            Self::Kilogram => Kind::Mass(1000.0),
            Self::Gram => Kind::Mass(1.0),
            Self::Pound => Kind::Mass(POUND_G),
            Self::Ounce => Kind::Mass(OUNCE_G),
            Self::Litre => Kind::Volume(1000.0),
            Self::Millilitre => Kind::Volume(1.0),
            Self::UkPint => Kind::Volume(UK_PINT_ML),
            Self::UsPint => Kind::Volume(US_PINT_ML),
            Self::UsCup => Kind::Volume(US_CUP_ML),
            Self::MetricCup => Kind::Volume(METRIC_CUP_ML),
            Self::Tablespoon => Kind::Volume(TABLESPOON_ML),
            Self::Teaspoon => Kind::Volume(TEASPOON_ML),
            Self::Piece => Kind::Count,
        }
    }

    #[must_use]
    pub const fn symbol(self) -> &'static str {
        match self {
            Self::Kilogram => "kg",
            Self::Gram => "g",
            Self::Pound => "lb",
            Self::Ounce => "oz",
            Self::Litre => "l",
            Self::Millilitre => "ml",
            Self::UkPint => "pint",
            Self::UsPint => "US pint",
            Self::UsCup => "cup",
            Self::MetricCup => "metric cup",
            Self::Tablespoon => "tbsp",
            Self::Teaspoon => "tsp",
            Self::Piece => "",
        }
    }
}

/// How much, in a kitchen measure.
#[derive(Debug, Clone, PartialEq)]
pub struct Amount {
    /// Finite and above zero.
    pub number: f64,
    pub unit: Unit,
    /// The size or kind of a piece, in the singular, where one was said.
    pub piece: Option<String>,
}

/// Why an amount was not understood.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum NoAmount {
    NoNumber,
    NotAboveZero,
    /// The word that is no measure.
    UnknownMeasure(String),
}

impl fmt::Display for NoAmount {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::NoNumber => f.write_str("begins with no number"),
            Self::NotAboveZero => f.write_str("is not above zero"),
            Self::UnknownMeasure(word) => write!(f, "has the unknown measure \"{word}\""),
        }
    }
}

impl Amount {
    /// Reads an amount: a number (`2`, `0.5`, `1/2`, `1 1/2`) and a measure, with or without a space.
    /// A number alone counts pieces.
    pub fn parse(text: &str) -> Result<Self, NoAmount> {
        let text = text.trim();
        let (number, rest) = number(text).ok_or(NoAmount::NoNumber)?;
        if !(number > 0.0 && number.is_finite()) {
            return Err(NoAmount::NotAboveZero);
        }
        let word = rest.trim().to_lowercase();
        if word.is_empty() {
            return Ok(Self { number, unit: Unit::Piece, piece: None });
        }
        if PIECES.contains(&word.as_str()) {
            let piece = Some(word.trim_end_matches('s').to_owned());
            return Ok(Self { number, unit: Unit::Piece, piece });
        }
        let unit = Unit::by_name(&word).ok_or(NoAmount::UnknownMeasure(word))?;
        Ok(Self { number, unit, piece: None })
    }
}

/// "1.2 kg cream" as an amount and the name of what it is of, which may be empty. The measure is the
/// longest beginning that is one.
pub fn measured(text: &str) -> Result<(Amount, String), NoAmount> {
    let words: Vec<&str> = text.split_whitespace().collect();
    let name = |from: usize| {
        let rest = words[from..].join(" ");
        rest.strip_prefix("of ").map_or(rest.clone(), str::to_owned)
    };
    let read = |n: usize| Some((Amount::parse(&words[..n].join(" ")).ok()?, name(n)));
    let longest = words.len().min(4);
    let found = (1..=longest).rev().find_map(read);
    found.ok_or_else(|| match words.first() {
        Some(first) => Amount::parse(first).err().unwrap_or(NoAmount::NoNumber),
        None => NoAmount::NoNumber,
    })
}

impl fmt::Display for Amount {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        // As finely as a cook measures: three figures, no more than two decimals.
        let scale = match self.number {
            n if n >= 99.5 => 1.0,
            n if n >= 9.95 => 10.0,
            _ => 100.0,
        };
        let number = (self.number * scale).round() / scale;
        match (&self.piece, self.unit) {
            (Some(piece), _) => write!(f, "{number} {piece}"),
            (None, Unit::Piece) if number == 1.0 => f.write_str("1 piece"),
            (None, Unit::Piece) => write!(f, "{number} pieces"),
            (None, unit) => write!(f, "{number} {}", unit.symbol()),
        }
    }
}

/// The number that a text begins with, and the rest.
fn number(text: &str) -> Option<(f64, &str)> {
    let (first, rest) = plain_number(text)?;
    if let Some((below, rest)) = rest.strip_prefix('/').and_then(plain_number) {
        return Some((first / below, rest));
    }
    let fraction = plain_number(rest.trim_start())
        .and_then(|(above, rest)| Some((above, plain_number(rest.strip_prefix('/')?)?)));
    match fraction {
        Some((above, (below, rest))) => Some((first + above / below, rest)),
        None => Some((first, rest)),
    }
}

/// A decimal number, with a sign or without.
fn plain_number(text: &str) -> Option<(f64, &str)> {
    let unsigned = text.strip_prefix(['-', '+']).unwrap_or(text);
    let digits =
        unsigned.find(|c: char| !(c.is_ascii_digit() || c == '.')).unwrap_or(unsigned.len());
    let end = text.len() - unsigned.len() + digits;
    Some((text[..end].parse().ok()?, &text[end..]))
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn ml(text: &str) -> f64 {
        let amount = Amount::parse(text).unwrap();
        match amount.unit.kind() {
            Kind::Volume(ml) => amount.number * ml,
            _ => panic!("{text} is no volume"),
        }
    }

    // UK Weights and Measures Act 1985; NIST Handbook 44 appendix C.
    #[test]
    fn measures_are_the_laws_measures() {
        assert!((ml("8 pints") - 4546.09).abs() < 1e-9);
        // 231 cubic inches to the US gallon.
        assert!((ml("8 US pints") - 231.0 * 2.54_f64.powi(3)).abs() < 1e-4);
        assert!((ml("2 cups") - ml("1 US pint")).abs() < 1e-9);
    }

    #[test]
    fn a_cook_may_write_halves_and_leave_out_the_space() {
        assert_eq!(Amount::parse("1/2 cup").unwrap().number, 0.5);
        assert_eq!(Amount::parse("1 1/2 tsp").unwrap().number, 1.5);
        assert_eq!(ml("500ml"), 500.0);
        assert_eq!(ml("1.5 L"), 1500.0);
        assert_eq!(ml("2 Tablespoons"), 30.0);
    }

    #[test]
    fn pieces_may_be_sized() {
        let amount = |text| Amount::parse(text).unwrap();
        assert_eq!(amount("3").unit, Unit::Piece);
        assert_eq!(amount("2 cloves").piece.as_deref(), Some("clove"));
        assert_eq!(amount("3 medium").to_string(), "3 medium");
    }

    #[test]
    fn an_amount_stands_before_the_name_of_what_it_is_of() {
        let read = |text| {
            let (amount, name) = measured(text).unwrap();
            format!("{amount}|{name}")
        };
        assert_eq!(read("8 kg onions, chopped"), "8 kg|onions, chopped");
        assert_eq!(read("1 1/2 metric cups of tomato puree"), "1.5 metric cup|tomato puree");
        assert_eq!(read("3 medium carrots"), "3 medium|carrots");
        assert_eq!(read("2 onions"), "2 pieces|onions");
        assert_eq!(measured("some onions"), Err(NoAmount::NoNumber));
        assert_eq!(measured(" "), Err(NoAmount::NoNumber));
    }

    #[test]
    fn what_is_no_amount_is_refused_with_the_reason() {
        assert_eq!(Amount::parse("-2 kg"), Err(NoAmount::NotAboveZero));
        assert_eq!(Amount::parse("0 g"), Err(NoAmount::NotAboveZero));
        assert_eq!(Amount::parse("1/0 cup"), Err(NoAmount::NotAboveZero));
        assert_eq!(Amount::parse("some"), Err(NoAmount::NoNumber));
        assert_eq!(Amount::parse(""), Err(NoAmount::NoNumber));
        assert_eq!(Amount::parse("2 stone"), Err(NoAmount::UnknownMeasure("stone".into())));
    }

    proptest! {
        #[test]
        fn an_amount_is_always_above_zero_or_refused(text in ".{0,30}") {
            if let Ok(amount) = Amount::parse(&text) {
                prop_assert!(amount.number > 0.0 && amount.number.is_finite());
            }
        }
    }
}
