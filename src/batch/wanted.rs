//! What the cook asks of the gravy, in the trade's measures, and each as the others.
//!
//! | asked | becomes | doubt |
//! |---|---|---|
//! | total solids, kg, litres | itself | none of its own |
//! | dip depth, cm | litres = base area × depth, straight walls | the pot's shape |
//! | reduced by a fraction r | total solids of all that goes in, over 1 − r, by mass | none of its own |
//! | °Brix | see [`super::target`] | what of the dry matter dissolves: ± a tenth |
//! | Bostwick, cm | total solids ∝ 1/(reading + 5 cm) | see below |
//! | line spread, cm | total solids ∝ reading^−3.2 | see below |
//! | like an earlier batch | that batch's total solids when it was right | a twentieth |
//!
//! **Bostwick** (ASTM F1080): where the yield stress σ₀ stops it, L = reading + 5 cm = (9 q² ρ g/(8
//! σ₀))^⅓, and σ₀ grows with about the cube of the solids (Rao, from memory): so L·TS is constant.
//! It needs one pair that was measured: a reading and the total solids that went with it. Where the
//! kitchen has none, USDA's Grade A tomato sauce stands in, [`TOMATO_SAUCE`], at the same solids
//! without fat (oil does not stiffen a purée), and the doubt is a quarter. Past 24 cm the trough
//! ends; from about 18 cm the gravy pours and the reading means little.
//!
//! **Line spread**: a ringful let go on a level plate, the mean radius after a minute. A thin gravy
//! is held by its viscosity: R ∝ (g V³/(3ν))^⅛ t^⅛ (Huppert 1982), and ν grows with about TS^2.5, so
//! TS ∝ R^−3.2. Here too a measured pair is needed, and there is none to stand in.

use std::fmt;

use super::ledger::Ledger;
use super::plan::Target;
use super::target;

/// What the cook asks for.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Wanted {
    /// Dry matter as a fraction of the contents.
    TotalSolids(f64),
    ContentsKg(f64),
    Litres(f64),
    DipCm(f64),
    /// This fraction of all that went in has boiled off, by mass.
    ReducedBy(f64),
    Brix(f64),
    Bostwick {
        cm: f64,
        seen: Option<Seen>,
    },
    LineSpread {
        cm: f64,
        seen: Option<Seen>,
    },
    /// `total_solids` where it was looked up before.
    LikeBatch {
        number: u32,
        total_solids: Option<f64>,
    },
}

/// A reading that was taken once, and the total solids that went with it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Seen {
    pub cm: f64,
    pub total_solids: f64,
}

/// Grade A tomato sauce: at most 14 cm Bostwick (USDA, from memory) at a refractive index of at
/// least 1.3455, 8.46 °Brix; with its fibre, and without fat, about 9.3 % solids.
pub const TOMATO_SAUCE: Seen = Seen { cm: 14.0, total_solids: 0.093 };

/// A Bostwick reading from which the gravy pours and means little, cm.
pub const BOSTWICK_POURS_CM: f64 = 18.0;
/// The end of the Bostwick trough, cm.
pub const BOSTWICK_END_CM: f64 = 24.0;

const LOCK_CM: f64 = 5.0;
const LINE_SPREAD_POWER: f64 = 3.2;
/// Doubt of total solids: from a stand-in, and from a pair of one's own.
const STAND_IN_DOUBT: f64 = 0.25;
const OWN_DOUBT: f64 = 0.06;
const LIKE_DOUBT: f64 = 0.05;

/// What a wish is read against.
pub struct Ground<'g> {
    /// Area of the pot's surface, m².
    pub area_m2: f64,
    /// All that goes in until the gravy is right.
    pub mix: &'g Ledger,
    /// Soluble share of the solids that are neither fat nor salt.
    pub soluble: f64,
    /// Total solids of an earlier batch when it was right.
    pub like: &'g dyn Fn(u32) -> Option<f64>,
}

impl Wanted {
    /// What can be asked for where this one cannot be worked out.
    #[must_use]
    pub const fn instead(&self) -> &'static str {
        match self {
            Self::LikeBatch { .. } => {
                "another measure; dekchi plan --write looks an earlier batch up"
            }
            _ => "measured_cm and measured_total_solids beside it, or another measure",
        }
    }

    /// The target that this comes to, or what is missing, as the end of a sentence.
    pub fn target(&self, ground: &Ground<'_>) -> Result<Target, String> {
        match *self {
            Self::TotalSolids(share) => Ok(Target::TotalSolids(share)),
            Self::ContentsKg(kg) => Ok(Target::Contents(kg)),
            Self::Litres(litres) => Ok(Target::Litres(litres)),
            Self::DipCm(cm) => Ok(Target::Litres(ground.area_m2 * cm * 10.0)),
            Self::ReducedBy(fraction) => {
                let mixed = ground.mix.total_solids().ok_or("nothing goes into the pot")?;
                Ok(Target::TotalSolids(mixed / (1.0 - fraction)))
            }
            Self::Brix(brix) => Ok(Target::Brix { brix, soluble: ground.soluble }),
            Self::Bostwick { cm, seen } => {
                let (seen, doubt) = or_stand_in(seen, ground.mix);
                let ratio = (seen.cm + LOCK_CM) / (cm + LOCK_CM);
                Ok(consistency(seen.total_solids * ratio, doubt))
            }
            Self::LineSpread { cm, seen } => {
                let seen =
                    seen.ok_or("a line spread needs one that was measured, with its total solids")?;
                let ratio = (seen.cm / cm).powf(LINE_SPREAD_POWER);
                Ok(consistency(seen.total_solids * ratio, OWN_DOUBT.max(0.3 * (ratio - 1.0).abs())))
            }
            Self::LikeBatch { number, total_solids } => {
                let share = total_solids.or_else(|| (ground.like)(number));
                let share = share
                    .ok_or_else(|| format!("how thick batch {number} was is not known here"))?;
                Ok(consistency(share, LIKE_DOUBT))
            }
        }
    }

    /// The same asked of the same gravy in a pot whose surface is `1/ratio` times as large.
    #[must_use]
    pub fn moved(self, ratio: f64) -> Self {
        match self {
            Self::DipCm(cm) => Self::DipCm(cm * ratio),
            same => same,
        }
    }

    /// The same with what an earlier batch was looked up and put down.
    #[must_use]
    pub fn looked_up(self, like: &dyn Fn(u32) -> Option<f64>) -> Self {
        match self {
            Self::LikeBatch { number, total_solids: None } => {
                Self::LikeBatch { number, total_solids: like(number) }
            }
            same => same,
        }
    }

    /// The kitchen's own Bostwick reading, where this is asked by one.
    #[must_use]
    pub const fn bostwick_seen(&self) -> Option<Seen> {
        match self {
            Self::Bostwick { seen, .. } => *seen,
            _ => None,
        }
    }

    /// The same asked of a batch `factor` times as large.
    #[must_use]
    pub fn scaled(self, factor: f64) -> Self {
        match self {
            Self::ContentsKg(kg) => Self::ContentsKg(kg * factor),
            Self::Litres(litres) => Self::Litres(litres * factor),
            Self::DipCm(cm) => Self::DipCm(cm * factor),
            same => same,
        }
    }
}

/// The kitchen's own pair, or tomato sauce at the solids without fat of this mix; and its doubt.
fn or_stand_in(seen: Option<Seen>, mix: &Ledger) -> (Seen, f64) {
    if let Some(seen) = seen {
        return (seen, OWN_DOUBT);
    }
    let without_fat = 1.0 - mix.fat_kg() / mix.dry_kg().max(1e-9);
    let total_solids = TOMATO_SAUCE.total_solids / without_fat.max(0.05);
    (Seen { total_solids, ..TOMATO_SAUCE }, STAND_IN_DOUBT)
}

fn consistency(total_solids: f64, doubt: f64) -> Target {
    Target::Consistency { total_solids, sd: doubt * total_solids }
}

/// As the cook said it.
impl fmt::Display for Wanted {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::TotalSolids(share) => write!(f, "{:.1} % total solids", 100.0 * share),
            Self::ContentsKg(kg) => write!(f, "{kg:.1} kg left"),
            Self::Litres(litres) => write!(f, "{litres:.1} l left"),
            Self::DipCm(cm) => write!(f, "{cm:.1} cm deep"),
            Self::ReducedBy(fraction) => write!(f, "reduced by {:.0} %", 100.0 * fraction),
            Self::Brix(brix) => write!(f, "{brix:.1} °Brix"),
            Self::Bostwick { cm, .. } => write!(f, "{cm:.1} cm Bostwick"),
            Self::LineSpread { cm, .. } => write!(f, "{cm:.1} cm line spread"),
            Self::LikeBatch { number, .. } => write!(f, "like batch {number}"),
        }
    }
}

/// A finished pot in every measure that follows from its balance.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Measures {
    pub total_solids: f64,
    pub contents_kg: f64,
    /// At the simmer.
    pub litres: f64,
    pub dip_cm: f64,
    /// Of all that went in, by mass; negative where water would have to be added.
    pub reduced_by: f64,
    pub brix: f64,
    /// How far `brix` may be out either way.
    pub brix_doubt: f64,
    /// Bostwick reading, cm; past [`BOSTWICK_END_CM`] it runs out of the trough.
    pub bostwick_cm: f64,
    pub bostwick_doubt_cm: f64,
    /// Standard deviation that the wish itself brings to `contents_kg`.
    pub contents_sd_kg: f64,
}

/// The measures of the pot when this target is reached; `None` where water alone cannot do it.
/// `seen` is the kitchen's own Bostwick reading where it has one.
#[must_use]
pub fn measures(target: &Target, seen: Option<Seen>, ground: &Ground<'_>) -> Option<Measures> {
    let mut pot = *ground.mix;
    let contents_kg = target.contents_kg(&pot)?;
    let contents_sd_kg = target.contents_sd_kg(&pot)?;
    let went_in_kg = pot.contents_kg();
    pot.set_contents(contents_kg);
    let litres = target::litres(&pot)?;
    let brix = target::brix(&pot, ground.soluble)?;
    let total_solids = pot.total_solids()?;
    let (seen, doubt) = or_stand_in(seen, ground.mix);
    let ran_cm = (seen.cm + LOCK_CM) * seen.total_solids / total_solids;
    Some(Measures {
        bostwick_cm: (ran_cm - LOCK_CM).max(0.0),
        bostwick_doubt_cm: doubt * ran_cm,
        total_solids,
        contents_kg,
        litres,
        dip_cm: litres / ground.area_m2 / 10.0,
        reduced_by: 1.0 - contents_kg / went_in_kg,
        brix,
        brix_doubt: 0.1 * brix,
        contents_sd_kg,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::batch::composition::Composition;

    /// Onion, tomato and carrot base of 19.58 kg by USDA SR28.
    fn mix() -> Ledger {
        let of = Composition::of_masses(17.117, 1.325, 1.033, 0.105).unwrap();
        Ledger::start(19.58, of)
    }

    fn like(number: u32) -> Option<f64> {
        (number == 41).then_some(0.152)
    }

    fn ground(mix: &Ledger) -> Ground<'_> {
        Ground { area_m2: 0.1257, mix, soluble: 0.82, like: &like }
    }

    fn total_solids(wanted: Wanted) -> f64 {
        let mix = mix();
        let target = wanted.target(&ground(&mix)).unwrap();
        measures(&target, None, &ground(&mix)).unwrap().total_solids
    }

    #[test]
    fn every_measure_of_one_pot_asks_for_the_same_pot() {
        let mix = mix();
        let pot = measures(&Target::TotalSolids(0.16), None, &ground(&mix)).unwrap();
        // 4.19 kg of 19.58 must go for 16 %, worked apart from this code.
        assert!((pot.contents_kg - (19.58 - 4.19)).abs() < 0.01);
        let same = [
            Wanted::ContentsKg(pot.contents_kg),
            Wanted::Litres(pot.litres),
            Wanted::DipCm(pot.dip_cm),
            Wanted::ReducedBy(pot.reduced_by),
            Wanted::Brix(pot.brix),
            Wanted::Bostwick { cm: pot.bostwick_cm, seen: None },
        ];
        for wanted in same {
            assert!((total_solids(wanted) - 0.16).abs() < 1e-9, "{wanted}");
        }
    }

    #[test]
    fn reduced_by_a_third_leaves_two_thirds_of_the_mass() {
        let mix = mix();
        let target = Wanted::ReducedBy(1.0 / 3.0).target(&ground(&mix)).unwrap();
        assert!((target.contents_kg(&mix).unwrap() - 19.58 * 2.0 / 3.0).abs() < 1e-9);
    }

    // Yield-limited Bostwick by ASTM F1080's lock: 5 Pa stops at 15.2 cm and 10 Pa at 11.0 (worked
    // apart from this code). Twice the yield stress is 2^⅓ the solids.
    #[test]
    fn twice_the_yield_stress_is_a_quarter_more_solids() {
        let seen = Some(Seen { cm: 15.2, total_solids: 0.12 });
        let thick = total_solids(Wanted::Bostwick { cm: 11.0, seen });
        assert!((thick / 0.12 - 2.0_f64.cbrt()).abs() < 0.005, "{thick}");
    }

    // A curry base that pours runs past 18 cm (common practice); fat-free solids 7.3 % at the start.
    #[test]
    fn a_base_that_pours_is_told_to_run_far() {
        let mix = mix();
        let start = measures(&Target::TotalSolids(0.1258), None, &ground(&mix)).unwrap();
        assert!(start.bostwick_cm > BOSTWICK_POURS_CM, "{}", start.bostwick_cm);
        let thick = measures(&Target::TotalSolids(0.25), None, &ground(&mix)).unwrap();
        assert!(thick.bostwick_cm < 10.0, "{}", thick.bostwick_cm);
    }

    #[test]
    fn a_dip_depth_is_another_in_another_pot() {
        assert_eq!(Wanted::DipCm(20.0).moved(0.5), Wanted::DipCm(10.0));
        assert_eq!(Wanted::Brix(6.0).moved(0.5), Wanted::Brix(6.0));
    }

    #[test]
    fn a_stand_in_is_doubted_more_than_ones_own() {
        let mix = mix();
        let sd = |seen| match (Wanted::Bostwick { cm: 12.0, seen }).target(&ground(&mix)) {
            Ok(Target::Consistency { total_solids, sd }) => sd / total_solids,
            other => panic!("{other:?}"),
        };
        assert!(sd(None) > 3.0 * sd(Some(Seen { cm: 15.0, total_solids: 0.11 })));
    }

    #[test]
    fn what_was_never_measured_cannot_be_asked_for() {
        let mix = mix();
        let told = Wanted::LineSpread { cm: 9.0, seen: None }.target(&ground(&mix)).unwrap_err();
        assert!(told.contains("needs one that was measured"));
        let like = |number| Wanted::LikeBatch { number, total_solids: None };
        assert!(like(7).target(&ground(&mix)).unwrap_err().contains("batch 7"));
        assert!((total_solids(like(41)) - 0.152).abs() < 1e-9);
        assert_eq!(
            like(41).looked_up(&self::like).looked_up(&|_| None),
            like(41).looked_up(&self::like)
        );
    }
}
