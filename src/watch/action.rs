//! What the judgement wants done.

use crate::moment::Moment;

/// What one step asked for, in order.
pub type Actions = Vec<Action>;

#[derive(Debug, Clone, PartialEq)]
pub enum Action {
    /// The pot as it is now.
    Show(Box<Snapshot>),
    /// Something was recognised.
    Happened(Happening),
    /// An alert changed its state.
    Tell(Notice),
}

/// The pot as the judgement sees it. `None` is "not known", never zero.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Snapshot {
    pub at: Moment,
    pub pot_c: Option<f64>,
    pub contents_kg: Option<f64>,
    pub contents_sd_kg: Option<f64>,
    pub water_kg: Option<f64>,
    pub fat_kg: Option<f64>,
    pub salt_kg: Option<f64>,
    /// Dry matter as a fraction of the contents.
    pub total_solids: Option<f64>,
    pub evaporation_kg_h: Option<f64>,
    pub evaporation_sd_kg_h: Option<f64>,
    /// Heat that the contents take up, W.
    pub heat_w: Option<f64>,
    pub lid: Option<Lid>,
    pub boiling: Option<bool>,
    /// Boiling point here and now, °C.
    pub boil_c: Option<f64>,
    /// Contents at which the target is reached, kg.
    pub target_kg: Option<f64>,
    /// Time until the target, s; `None` where it will not be reached as things stand.
    pub target_in_s: Option<Spread>,
    /// 0 for a bottom just scraped, 1 where it is as likely as not to have caught.
    pub catch_index: Option<f64>,
    pub stir_within_s: Option<f64>,
    pub since_stir_s: Option<f64>,
    /// Ladled out since service began, kg.
    pub served_kg: Option<f64>,
    /// Time until the pot is empty at the present speed of service, s.
    pub runs_out_in_s: Option<f64>,
    /// Water that brings a gravy that is past its target back to it, L.
    pub top_up_l: Option<f64>,
    /// What the next planned addition is, and its kg.
    pub next_addition: Option<(String, f64)>,
    /// Alerts that are raised now.
    pub raised: Vec<Alarm>,
}

/// An 80 % interval and its middle.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Spread {
    pub p10: f64,
    pub p50: f64,
    pub p90: f64,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Lid {
    On,
    Off,
}

/// Something that was recognised in the pot.
#[derive(Debug, Clone, PartialEq)]
pub struct Happening {
    /// When it began.
    pub at: Moment,
    /// When it was known.
    pub seen: Moment,
    pub what: What,
}

#[derive(Debug, Clone, PartialEq)]
pub enum What {
    /// `name` where a planned addition was recognised.
    Added {
        kg: f64,
        sd_kg: f64,
        name: Option<String>,
    },
    /// The cook put an addition right: what it is now. What the scale saw then stays as it was told.
    Corrected {
        kg: f64,
        name: Option<String>,
        /// How long before this the addition began, s.
        ago_s: f64,
    },
    /// What was poured out to be blended or sieved is in the pot again. It goes by the name of an
    /// addition, and is none of another kind.
    PouredBack {
        kg: f64,
        sd_kg: f64,
    },
    Taken {
        kg: f64,
        sd_kg: f64,
    },
    Stirred {
        for_s: f64,
    },
    Blended {
        for_s: f64,
    },
    LidOn,
    LidOff,
    Boil,
    OffBoil,
    ProbeOut,
    ProbeIn,
    SensorFault {
        sensor: Sensor,
        why: &'static str,
    },
    SensorBack {
        sensor: Sensor,
    },
}

/// What [`What::PouredBack`] is called where additions are named.
pub const POURED_BACK: &str = "gravy poured back";

impl What {
    /// Its fixed name.
    #[must_use]
    pub const fn name(&self) -> &'static str {
        match self {
            Self::Added { .. } | Self::PouredBack { .. } => "added",
            Self::Corrected { .. } => "corrected",
            Self::Taken { .. } => "taken",
            Self::Stirred { .. } => "stirred",
            Self::Blended { .. } => "blended",
            Self::LidOn => "lid-on",
            Self::LidOff => "lid-off",
            Self::Boil => "boil",
            Self::OffBoil => "off-boil",
            Self::ProbeOut => "probe-out",
            Self::ProbeIn => "probe-in",
            Self::SensorFault { .. } => "sensor-fault",
            Self::SensorBack { .. } => "sensor-back",
        }
    }
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Sensor {
    Probe,
    Scale,
    Base,
    Platform,
    Air,
}

impl Sensor {
    pub const ALL: [Self; 5] = [Self::Probe, Self::Scale, Self::Base, Self::Platform, Self::Air];

    /// The sensor of this name, where there is one.
    #[must_use]
    pub fn by_name(name: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|sensor| sensor.name() == name)
    }

    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Probe => "probe",
            Self::Scale => "scale",
            Self::Base => "base probe",
            Self::Platform => "platform",
            Self::Air => "barometer",
        }
    }
}

/// An alert that changed its state.
#[derive(Debug, Clone, PartialEq)]
pub struct Notice {
    pub at: Moment,
    pub alarm: Alarm,
    pub state: AlarmState,
    /// The cause and what to do, in the cook's words.
    pub why: String,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum AlarmState {
    Raised,
    Acknowledged,
    Shelved,
    Cleared,
}

impl AlarmState {
    pub const ALL: [Self; 4] = [Self::Raised, Self::Acknowledged, Self::Shelved, Self::Cleared];

    /// The state of this name, where there is one.
    #[must_use]
    pub fn by_name(name: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|state| state.name() == name)
    }

    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Raised => "raised",
            Self::Acknowledged => "acknowledged",
            Self::Shelved => "shelved",
            Self::Cleared => "cleared",
        }
    }
}

/// The alerts, by their fixed names.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Alarm {
    StirDue,
    Catching,
    TargetNear,
    TargetReached,
    RunningDry,
    BoilingOver,
    GoingCold,
    TooCoolToHold,
    CoolingTooSlow,
    ProbeFault,
    ScaleFault,
}

impl Alarm {
    pub const ALL: [Self; 11] = [
        Self::StirDue,
        Self::Catching,
        Self::TargetNear,
        Self::TargetReached,
        Self::RunningDry,
        Self::BoilingOver,
        Self::GoingCold,
        Self::TooCoolToHold,
        Self::CoolingTooSlow,
        Self::ProbeFault,
        Self::ScaleFault,
    ];

    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::StirDue => "stir-due",
            Self::Catching => "catching",
            Self::TargetNear => "target-near",
            Self::TargetReached => "target-reached",
            Self::RunningDry => "running-dry",
            Self::BoilingOver => "boiling-over",
            Self::GoingCold => "going-cold",
            Self::TooCoolToHold => "too-cool-to-hold",
            Self::CoolingTooSlow => "cooling-too-slow",
            Self::ProbeFault => "probe-fault",
            Self::ScaleFault => "scale-fault",
        }
    }

    /// The alert of this name, where there is one.
    #[must_use]
    pub fn by_name(name: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|alarm| alarm.name() == name)
    }
}
