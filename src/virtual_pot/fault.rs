//! What goes wrong with the virtual rig's sensors.

use super::chance::Chance;

/// Value at the rail of the converter: four 50 kg cells, kg.
pub const RAIL_KG: f64 = 200.0;

/// A DS18B20 that lost its power says this, °C.
pub const POWER_ON_C: f64 = 85.0;

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Trouble {
    /// The probe lies beside the pot.
    ProbeOut,
    ProbePowerOn,
    ProbeStuck,
    ProbeAbsent,
    ScaleSaturated,
    ScaleStuck,
    ScaleAbsent,
    /// Nothing arrives at all.
    Gap,
    /// Samples arrive late and some twice.
    Disorder,
}

/// A trouble and when it lasts.
#[derive(Debug, Clone, Copy)]
pub struct Spell {
    pub trouble: Trouble,
    pub from_s: i64,
    pub to_s: i64,
}

impl Spell {
    #[must_use]
    pub const fn on(&self, t_s: i64) -> bool {
        self.from_s <= t_s && t_s < self.to_s
    }
}

/// Troubles within `secs`: in most batches none.
pub fn draw(chance: &mut Chance, secs: i64) -> Vec<Spell> {
    let many = chance.pick(&[0, 0, 0, 0, 0, 0, 1, 1, 2, 3]);
    (0..many).map(|_| spell(chance, secs)).collect()
}

fn spell(chance: &mut Chance, secs: i64) -> Spell {
    use Trouble::{
        Disorder, Gap, ProbeAbsent, ProbeOut, ProbePowerOn, ProbeStuck, ScaleAbsent,
        ScaleSaturated, ScaleStuck,
    };
    let trouble = chance.pick(&[
        ProbeOut,
        ProbePowerOn,
        ProbeStuck,
        ProbeAbsent,
        ScaleSaturated,
        ScaleStuck,
        ScaleAbsent,
        Gap,
        Disorder,
    ]);
    let longest_s = match trouble {
        ProbePowerOn => 20.0,
        Gap => 240.0,
        Disorder => 3600.0,
        _ => 900.0,
    };
    let from_s = (chance.between(0.08, 0.85) * secs as f64) as i64;
    let for_s = chance.between_log(5.0_f64.max(0.1 * longest_s), longest_s) as i64;
    Spell { trouble, from_s, to_s: from_s + for_s }
}
