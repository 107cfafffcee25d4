//! The error budget of a platform, from the data sheet of its load cells.
//!
//! N cells of rated load L carry a load m between them. Each part is one standard uncertainty or the
//! sheet's limit, whichever the sheet gives; parts add as the root of their squares
//! ([`independent`]), which is right for those that do not go together and the usual way for limits.
//!
//! ```text
//! error after calibration   √N · p_LC·mpe(m/N)              (R 60, a cell each its own)
//! creep in 30 min           N · 0.7·p_LC·mpe(m/N)           (all cells creep the same way)
//! zero with warming         √N · c₀ · L · ΔT/10 K           (cells differ in sign)
//! span with warming         c_s · m · ΔT/10 K
//! converter with warming    u_T · ΔT / (V per kg)
//! noise of one second       u_n / (V per kg) / √10
//! ```
//!
//! Cheap half bridges state no class; their n is set to what their non-linearity comes to. Their
//! figures are typical, from memory of several sheets.

use super::weighing::{Bridge, buoyancy_kg, cell_creep_kg, cell_error_kg, independent};

/// What a cell's sheet says.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Cells {
    pub name: &'static str,
    pub number: f64,
    /// Rated load of one, kg.
    pub rated_kg: f64,
    /// Sensitivity of the whole bridge, V/V at rated load of all.
    pub sensitivity: f64,
    /// Intervals of its class (R 60).
    pub intervals: f64,
    /// Zero with temperature, share of rated load per 10 K.
    pub zero_per_10_k: f64,
    /// Span with temperature, share of the load per 10 K.
    pub span_per_10_k: f64,
}

/// Beam cells of class C3: ±0.02 % of rated load per 10 K on zero, ±0.017 % on span (typical sheet).
pub const BEAMS: Cells = Cells {
    name: "four full-bridge beam cells, 50 kg, 2 mV/V, class C3",
    number: 4.0,
    rated_kg: 50.0,
    sensitivity: 2e-3,
    intervals: 3_000.0,
    zero_per_10_k: 2e-4,
    span_per_10_k: 1.7e-4,
};

/// Flat half bridges as in bathroom scales, joined to one bridge: no class; 0.1 % per 10 K on zero,
/// 0.05 % on span, non-linearity as of n = 500 (typical sheet).
pub const HALF_BRIDGES: Cells = Cells {
    name: "four half-bridge cells, 50 kg, 1 mV/V, no class",
    number: 4.0,
    rated_kg: 50.0,
    sensitivity: 1e-3,
    intervals: 500.0,
    zero_per_10_k: 1e-3,
    span_per_10_k: 5e-4,
};

/// How the platform is used.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Use {
    /// Pot, lid and contents, kg.
    pub load_kg: f64,
    /// How much the cells warm, K.
    pub warming_k: f64,
    pub excitation_v: f64,
    /// Converter's noise at its input, V rms.
    pub noise_v: f64,
    /// Converter's offset drift, V/K.
    pub drift_v_k: f64,
    /// Volume of the pot, for the air's lift, m³.
    pub volume_m3: f64,
}

impl Default for Use {
    /// A full pot of 30 kg with its 6 kg of steel, cells that warm by 10 K behind their shield, an
    /// NAU7802 at 3.3 V: noise of 40 nV and drift of 6 nV/K are assumed (not on the sheet we have).
    fn default() -> Self {
        Self {
            load_kg: 36.0,
            warming_k: 10.0,
            excitation_v: 3.3,
            noise_v: 40e-9,
            drift_v_k: 6e-9,
            volume_m3: 0.05,
        }
    }
}

/// One line of the budget.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Part {
    pub name: &'static str,
    pub kg: f64,
    /// Whether it comes and goes within a batch, and so looks like water that left or came.
    pub within_a_batch: bool,
}

/// The budget: its parts, largest first, and what they come to.
#[derive(Debug, Clone, PartialEq)]
pub struct Budget {
    pub parts: Vec<Part>,
    /// All parts together, kg.
    pub absolute_kg: f64,
    /// Those that move within a batch, kg.
    pub moving_kg: f64,
}

/// The budget of these cells in this use; `None` outside the ranges of its formulas.
#[must_use]
pub fn budget(cells: &Cells, used: &Use) -> Option<Budget> {
    let (n, each_kg) = (cells.number, used.load_kg / cells.number);
    let bridge = Bridge {
        sensitivity: cells.sensitivity,
        rated_kg: cells.rated_kg * n,
        excitation_v: used.excitation_v,
        gain: 128.0,
        bits: 24,
    };
    let tens = used.warming_k / 10.0;
    let still = |name, kg| Part { name, kg, within_a_batch: false };
    let moves = |name, kg| Part { name, kg, within_a_batch: true };
    let error_kg = cell_error_kg(each_kg, cells.rated_kg, cells.intervals)?;
    let creep_kg = cell_creep_kg(each_kg, cells.rated_kg, cells.intervals)?;
    let lift_kg = buoyancy_kg(used.volume_m3, 20.0, 101_325.0)?
        - buoyancy_kg(used.volume_m3, 40.0, 101_325.0)?;
    let mut parts = vec![
        still("cells, after calibration", n.sqrt() * error_kg),
        moves("creep in 30 min", n * creep_kg),
        moves("zero, as the cells warm", n.sqrt() * cells.zero_per_10_k * cells.rated_kg * tens),
        moves("span, as the cells warm", cells.span_per_10_k * used.load_kg * tens),
        moves("converter, as it warms", bridge.noise_kg(used.drift_v_k * used.warming_k)?),
        moves("air's lift, 20 to 40 °C", lift_kg),
        moves("noise of a second's mean", bridge.noise_kg(used.noise_v)? / 10_f64.sqrt()),
    ];
    parts.sort_by(|a, b| b.kg.total_cmp(&a.kg));
    let all: Vec<f64> = parts.iter().map(|part| part.kg).collect();
    let moving: Vec<f64> = parts.iter().filter(|p| p.within_a_batch).map(|p| p.kg).collect();
    Some(Budget { absolute_kg: independent(&all)?, moving_kg: independent(&moving)?, parts })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn part(cells: &Cells, name: &str) -> f64 {
        let budget = budget(cells, &Use::default()).unwrap();
        budget.parts.iter().find(|part| part.name.contains(name)).unwrap().kg
    }

    #[test]
    fn parts_are_those_worked_by_hand() {
        // v = 50/3000 kg = 16.7 g; 9 kg a cell is 540 v, so mpe = 0.7·1 v = 11.7 g.
        assert!((part(&BEAMS, "after calibration") - 2.0 * 0.01167).abs() < 1e-4);
        assert!((part(&BEAMS, "creep") - 4.0 * 0.00817).abs() < 1e-4);
        // 0.02 % of 50 kg is 10 g a cell, 20 g for four that differ.
        assert!((part(&BEAMS, "zero") - 0.020).abs() < 1e-9);
        assert!((part(&HALF_BRIDGES, "zero") - 0.100).abs() < 1e-9);
        // 0.017 % of 36 kg.
        assert!((part(&BEAMS, "span") - 0.006_12).abs() < 1e-9);
        // 60 nV at 2 mV/V · 3.3 V / 200 kg = 33 µV/kg.
        assert!((part(&BEAMS, "converter") - 60e-9 / 33e-6).abs() < 1e-9);
        // 50 L of air is 60.2 g at 20 °C and 56.4 g at 40 °C (1.204 and 1.127 kg/m³).
        assert!((part(&BEAMS, "lift") - 0.003_85).abs() < 5e-5);
        // v = 50/500 kg = 100 g; 9 kg a cell is 90 v, so mpe = 0.7·0.5 v = 35 g.
        assert!((part(&HALF_BRIDGES, "after calibration") - 2.0 * 0.035).abs() < 1e-9);
        assert!((part(&HALF_BRIDGES, "span") - 0.018).abs() < 1e-9);
        // 40 nV over √10 at 33 µV/kg.
        assert!((part(&BEAMS, "noise") - 40e-9 / 33e-6 / 10_f64.sqrt()).abs() < 1e-9);
    }

    #[test]
    fn beams_are_several_times_better_than_half_bridges() {
        let total = |cells| budget(cells, &Use::default()).unwrap().moving_kg;
        assert!(total(&HALF_BRIDGES) > 3.0 * total(&BEAMS));
    }

    #[test]
    fn a_load_beyond_the_cells_class_has_no_budget() {
        let much = Use { load_kg: 5_000.0, ..Use::default() };
        assert_eq!(budget(&BEAMS, &much), None);
    }
}
