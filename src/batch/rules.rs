//! Keeping food hot, cooling it, keeping it cold and heating it again: the rules of some countries.
//!
//! Each limit says where it is from and whether it is law, official guidance or the trade's
//! practice. The local authority decides; these numbers only help to notice in time.
//!
//! Read in the text of the rule: Wales SI 2006/31 Sch. 4 (and England's identical SI 2005/2059),
//! Northern Ireland SR 2006/3 Sch. 4, Scotland SSI 2006/3 Sch. 4, Delaware's adoption of the FDA
//! Food Code (3-403.11, 3-501.14), Washington's WAC 246-215-03525 (3-501.16), BfR opinion 037/2020
//! (summary), an Australian council's wording of Standard 3.2.2's cooling. From memory, to be checked
//! before it is leaned on: England SI 2013/2996 Sch. 4's own text, the FDA's 2022 edition, Codex
//! CXC 39-1993, Standard 3.2.2's holding, chilling and reheating, Germany's chilling and reheating.

use std::fmt;

/// How binding a limit is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Standing {
    Law,
    Guidance,
    /// Common practice; no law says it as a number.
    Practice,
}

impl Standing {
    #[must_use]
    pub const fn words(self) -> &'static str {
        match self {
            Self::Law => "law",
            Self::Guidance => "official guidance",
            Self::Practice => "common practice, not law",
        }
    }
}

/// Keeping hot for service.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Hold {
    /// At or above this, °C.
    pub limit_c: f64,
    /// How long it may be below the limit for service, once only, s; `None` where the rule has no
    /// such time.
    pub allowance_s: Option<f64>,
    pub standing: Standing,
    pub source: &'static str,
}

/// One stretch of cooling.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Stretch {
    pub from_c: f64,
    pub to_c: f64,
    /// From the moment at which the food falls below `from_c`, s.
    pub within_s: f64,
}

/// Cooling for the store.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Cool {
    /// All must be met.
    pub stretches: &'static [Stretch],
    pub standing: Standing,
    pub source: &'static str,
}

/// Keeping cold.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Chill {
    /// At or below this, °C.
    pub limit_c: f64,
    pub source: &'static str,
}

/// Heating again for service.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Reheat {
    /// Through and through at least this, °C.
    pub to_c: f64,
    /// For this long, s.
    pub for_s: f64,
    pub source: &'static str,
}

/// The rules of one place.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Rules {
    /// As the kitchen file and the command line call it.
    pub name: &'static str,
    pub place: &'static str,
    pub hold: Hold,
    pub cool: Cool,
    pub chill: Chill,
    pub reheat: Reheat,
}

const HOUR_S: f64 = 3600.0;

const UK_COOL: Cool = Cool {
    stretches: &[Stretch { from_c: 63.0, to_c: 8.0, within_s: 1.5 * HOUR_S }],
    standing: Standing::Practice,
    source: "the industry's; the law says as quickly as possible (Regulation 852/2004, Annex II, \
             ch. IX)",
};

const UK_REHEAT: Reheat = Reheat {
    to_c: 75.0,
    for_s: 30.0,
    source: "Food Standards Agency guidance: 75 °C for 30 s, once only",
};

const fn uk_hold(source: &'static str) -> Hold {
    Hold { limit_c: 63.0, allowance_s: Some(2.0 * HOUR_S), standing: Standing::Law, source }
}

const ENGLAND: Rules = Rules {
    name: "england",
    place: "England",
    hold: uk_hold("Food Safety and Hygiene (England) Regulations 2013 (SI 2013/2996), Sch. 4"),
    cool: UK_COOL,
    chill: Chill { limit_c: 8.0, source: "SI 2013/2996, Sch. 4; 0 to 5 °C is advised" },
    reheat: UK_REHEAT,
};

const WALES: Rules = Rules {
    name: "wales",
    place: "Wales",
    hold: uk_hold("Food Hygiene (Wales) Regulations 2006 (SI 2006/31), Sch. 4 para 6 and 7"),
    cool: UK_COOL,
    chill: Chill { limit_c: 8.0, source: "SI 2006/31, Sch. 4 para 2; 0 to 5 °C is advised" },
    reheat: UK_REHEAT,
};

const NORTHERN_IRELAND: Rules = Rules {
    name: "northern-ireland",
    place: "Northern Ireland",
    hold: uk_hold("Food Hygiene Regulations (Northern Ireland) 2006 (SR 2006/3), Sch. 4"),
    cool: UK_COOL,
    chill: Chill { limit_c: 8.0, source: "SR 2006/3, Sch. 4; 0 to 5 °C is advised" },
    reheat: UK_REHEAT,
};

const SCOTLAND: Rules = Rules {
    name: "scotland",
    place: "Scotland",
    hold: Hold {
        limit_c: 63.0,
        allowance_s: None,
        standing: Standing::Law,
        source: "Food Hygiene (Scotland) Regulations 2006 (SSI 2006/3), Sch. 4 para 2",
    },
    cool: UK_COOL,
    chill: Chill {
        limit_c: 8.0,
        source: "SSI 2006/3, Sch. 4: a refrigerator or cool ventilated place, no number; 8 °C is \
                 the rest of the UK's, 0 to 5 °C is advised",
    },
    reheat: Reheat { to_c: 82.0, for_s: 0.0, source: "SSI 2006/3, Sch. 4 para 3" },
};

const FDA: Rules = Rules {
    name: "fda",
    place: "USA (FDA Food Code, where a state has adopted it)",
    hold: Hold {
        limit_c: 57.0,
        allowance_s: None,
        standing: Standing::Law,
        source: "FDA Food Code 3-501.16",
    },
    cool: Cool {
        stretches: &[
            Stretch { from_c: 57.0, to_c: 21.0, within_s: 2.0 * HOUR_S },
            Stretch { from_c: 57.0, to_c: 5.0, within_s: 6.0 * HOUR_S },
        ],
        standing: Standing::Law,
        source: "FDA Food Code 3-501.14",
    },
    chill: Chill { limit_c: 5.0, source: "FDA Food Code 3-501.16" },
    reheat: Reheat { to_c: 74.0, for_s: 15.0, source: "FDA Food Code 3-403.11, within 2 h" },
};

const FSANZ: Rules = Rules {
    name: "fsanz",
    place: "Australia and New Zealand",
    hold: Hold {
        limit_c: 60.0,
        allowance_s: None,
        standing: Standing::Law,
        source: "Food Standards Code, Standard 3.2.2",
    },
    cool: Cool {
        stretches: &[
            Stretch { from_c: 60.0, to_c: 21.0, within_s: 2.0 * HOUR_S },
            Stretch { from_c: 21.0, to_c: 5.0, within_s: 4.0 * HOUR_S },
        ],
        standing: Standing::Law,
        source: "Food Standards Code, Standard 3.2.2",
    },
    chill: Chill { limit_c: 5.0, source: "Food Standards Code, Standard 3.2.2" },
    reheat: Reheat { to_c: 60.0, for_s: 0.0, source: "Food Standards Code, Standard 3.2.2" },
};

const GERMANY: Rules = Rules {
    name: "germany",
    place: "Germany",
    hold: Hold {
        limit_c: 60.0,
        allowance_s: None,
        standing: Standing::Guidance,
        source: "Federal Institute for Risk Assessment, opinion 037/2020",
    },
    cool: Cool {
        stretches: &[Stretch { from_c: 60.0, to_c: 10.0, within_s: 2.0 * HOUR_S }],
        standing: Standing::Guidance,
        source: "Codex Alimentarius CXC 39-1993; the law says as quickly as possible (Regulation \
                 852/2004, Annex II, ch. IX)",
    },
    chill: Chill { limit_c: 7.0, source: "common practice; no number in Regulation 852/2004" },
    reheat: Reheat { to_c: 70.0, for_s: 120.0, source: "common practice: 70 °C for 2 min" },
};

impl Rules {
    pub const ALL: [Self; 7] = [ENGLAND, WALES, NORTHERN_IRELAND, SCOTLAND, FDA, FSANZ, GERMANY];

    /// The rules that hold where none are chosen.
    pub const DEFAULT: Self = ENGLAND;

    /// The rules of this name; `uk` is England's.
    #[must_use]
    pub fn by_name(name: &str) -> Option<Self> {
        let name = name.trim().to_lowercase();
        let name = if name == "uk" { "england" } else { &name };
        Self::ALL.into_iter().find(|rules| rules.name == name)
    }

    /// The names of all rules, as a list to be read.
    #[must_use]
    pub fn names() -> String {
        Self::ALL.map(|rules| rules.name).join(", ")
    }
}

/// The sentence that goes with every limit that is shown.
pub const DEFER: &str = "The local authority's word goes before this.";

impl fmt::Display for Hold {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "at {} °C or above", self.limit_c)?;
        if let Some(s) = self.allowance_s {
            write!(f, "; below it for service less than {} h, once only", s / HOUR_S)?;
        }
        Ok(())
    }
}

impl fmt::Display for Stretch {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self { from_c, to_c, within_s } = self;
        let minutes = within_s / 60.0;
        match minutes % 60.0 == 0.0 {
            true => write!(f, "{from_c} to {to_c} °C in {} h", minutes / 60.0),
            false => write!(f, "{from_c} to {to_c} °C in {minutes} min"),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    // Wales SI 2006/31 Sch. 4 para 6 and 7; FDA Food Code 3-501.16 and 3-501.14.
    #[test]
    fn limits_are_those_of_the_rules() {
        let england = Rules::by_name("uk").unwrap();
        assert_eq!((england.hold.limit_c, england.hold.allowance_s), (63.0, Some(7200.0)));
        let fda = Rules::by_name("fda").unwrap();
        assert_eq!((fda.hold.limit_c, fda.hold.allowance_s), (57.0, None));
        let told: Vec<_> = fda.cool.stretches.iter().map(Stretch::to_string).collect();
        assert_eq!(told, ["57 to 21 °C in 2 h", "57 to 5 °C in 6 h"]);
    }

    // SSI 2006/3 has no two hours below the limit, and 82 °C is for heating again only.
    #[test]
    fn scotland_has_no_two_hours() {
        let scotland = Rules::by_name("scotland").unwrap();
        assert_eq!(scotland.hold.allowance_s, None);
        assert_eq!(scotland.hold.limit_c, 63.0);
        assert_eq!(scotland.reheat.to_c, 82.0);
    }

    #[test]
    fn ninety_minutes_is_practice_and_not_law() {
        assert_eq!(Rules::DEFAULT.cool.standing, Standing::Practice);
        assert_eq!(Rules::DEFAULT.cool.stretches[0].to_string(), "63 to 8 °C in 90 min");
    }

    #[test]
    fn every_limit_names_its_source_and_every_stretch_falls() {
        for rules in Rules::ALL {
            assert_eq!(Rules::by_name(rules.name), Some(rules));
            let sources =
                [rules.hold.source, rules.cool.source, rules.chill.source, rules.reheat.source];
            assert!(sources.iter().all(|source| source.len() > 10));
            assert!(rules.cool.stretches.iter().all(|s| s.from_c > s.to_c && s.within_s > 0.0));
            assert!(rules.hold.limit_c > rules.chill.limit_c);
        }
    }
}
