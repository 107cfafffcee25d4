//! What hands do to a platform.
//!
//! A hand that leans on the rim, a spoon pushed round, a blender held down: forces that are no mass.
//! Each handling draws its own lean, swing and shake; the sizes are those of a person at a stove
//! (from memory, no source).

use super::chance::Chance;

/// What the cook's hands are doing.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Doing {
    Nothing,
    Stirring,
    Pouring,
    Lidding,
    Blending,
    Ladling,
}

/// A force that wanders (lean), goes round (swing) and trembles (shake), kg.
#[derive(Debug, Clone, Copy)]
struct Grip {
    lean_kg: f64,
    lean_sd_kg: f64,
    swing_kg: f64,
    turns_hz: f64,
    shake_kg: f64,
}

#[derive(Debug, Clone)]
pub struct Hands {
    grip: Option<Grip>,
    lean_kg: f64,
    phase: f64,
    chance: Chance,
}

impl Hands {
    #[must_use]
    pub const fn new(seed: u64) -> Self {
        Self { grip: None, lean_kg: 0.0, phase: 0.0, chance: Chance::new(seed, 4) }
    }

    /// Hands begin something, or leave.
    pub fn begin(&mut self, doing: Doing) {
        self.grip = grip(doing, &mut self.chance);
        self.lean_kg = self.grip.map_or(0.0, |grip| grip.lean_kg);
    }

    /// Force on the platform `dt_s` after the last one, kg.
    pub fn force_kg(&mut self, dt_s: f64) -> f64 {
        let Some(grip) = self.grip else { return 0.0 };
        const WANDER_S: f64 = 3.0;
        let fade = (-dt_s / WANDER_S).exp();
        let kick = grip.lean_sd_kg * (1.0 - fade * fade).sqrt() * self.chance.normal();
        self.lean_kg = grip.lean_kg + fade * (self.lean_kg - grip.lean_kg) + kick;
        self.phase += std::f64::consts::TAU * grip.turns_hz * dt_s;
        self.lean_kg + grip.swing_kg * self.phase.sin() + grip.shake_kg * self.chance.normal()
    }
}

fn grip(doing: Doing, chance: &mut Chance) -> Option<Grip> {
    let mut of = |lean: (f64, f64), sd: f64, swing: (f64, f64), hz: (f64, f64), shake: f64| {
        Some(Grip {
            lean_kg: chance.between(lean.0, lean.1),
            lean_sd_kg: sd * chance.between(0.5, 1.5),
            swing_kg: chance.between(swing.0, swing.1),
            turns_hz: chance.between(hz.0, hz.1),
            shake_kg: shake * chance.between(0.5, 1.5),
        })
    };
    match doing {
        Doing::Nothing => None,
        Doing::Stirring => of((-0.3, 1.2), 0.3, (0.1, 1.2), (0.4, 1.3), 0.08),
        Doing::Pouring => of((-0.05, 0.3), 0.05, (0.0, 0.1), (0.2, 0.8), 0.10),
        Doing::Lidding => of((-0.5, 0.6), 0.3, (0.0, 0.2), (0.5, 1.5), 0.15),
        Doing::Blending => of((-0.4, 1.8), 0.4, (0.05, 0.5), (0.1, 0.6), 0.25),
        Doing::Ladling => of((-0.1, 0.4), 0.15, (0.0, 0.3), (0.3, 1.0), 0.06),
    }
}
