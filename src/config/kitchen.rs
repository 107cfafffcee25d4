//! The kitchen file: where the kitchen stands and which pots it has.
//!
//! ```toml
//! [site]
//! name = "Harbour Lane Kitchen"   # may be left out
//! altitude_m = 40.0
//! pressure_hpa = 1008.0           # may be left out: a barometer's reading there, not at sea level
//!
//! [[pot]]
//! name = "big"
//! base_diameter_m = 0.40
//! height_m = 0.35                 # may be left out
//! tare_kg = 6.2                   # the pot and whatever else always stands on the platform
//! lid_kg = 1.35
//! flame_kw = 8.0                  # what the gas gives at the usual flame; may be left out
//! gas = "propane"                 # or "butane" or "mains"
//! efficiency = 0.42               # where it was measured; may be left out
//! batch = "tuesday-base.toml"     # what it cooks where nothing else is said; may be left out
//! ```
//!
//! What hangs on the board stands in `[board]` and `[pot.sensors]`: see [`board`]. Then, where there
//! are any, `[mqtt]` ([`super::broker`]), `[alerts]` ([`super::alerts`]), `[rules]` ([`super::rules`]) and `[[ingredient]]` ([`super::ingredient`]).

use std::path::{Path, PathBuf};

use crate::batch::ingredient::Ingredient;
use crate::batch::larder::Larder;
use crate::batch::pot::{Pot, Site};
use crate::batch::stove::Stove;
use crate::quantity::Pascals;
use crate::serve::Settings;

use super::alerts::{self, Alerts};
use super::board::{self, Board, Sensors};
use super::broker::{self, Broker};
use super::complaint::Complaints;
use super::file::{self, File};
use super::ingredient;
use super::page;
use super::rules::{self, Habits};
use super::section::Section;
use super::stove;

/// The tables of a kitchen file.
pub const KEYS: &[&str] =
    &["site", "board", "mqtt", "alerts", "pot", "rules", "ingredient", "page"];

const SITE_KEYS: &[&str] = &["name", "altitude_m", "pressure_hpa"];
const POT_KEYS: &[&str] = &[
    "name",
    "base_diameter_m",
    "height_m",
    "tare_kg",
    "lid_kg",
    "flame_kw",
    "gas",
    "efficiency",
    "batch",
    "sensors",
];

/// A kitchen as its file describes it.
#[derive(Debug, Clone, PartialEq)]
pub struct Kitchen {
    pub name: Option<String>,
    pub site: Site,
    /// At least one; no two of the same name.
    pub pots: Vec<Pot>,
    pub board: Board,
    /// What hangs on each pot, in the order of the pots.
    pub sensors: Vec<Sensors>,
    /// Where each pot stands on the stove, in the order of the pots; `None` where that is not said.
    pub stoves: Vec<Option<Stove>>,
    /// What each pot cooks where nothing else is said, in the order of the pots.
    pub batches: Vec<Option<PathBuf>>,
    /// Who is told over MQTT; `None` where nobody is.
    pub broker: Option<Broker>,
    /// Who is told beyond the stove; `None` where nobody is.
    pub alerts: Option<Alerts>,
    pub habits: Habits,
    /// The bundled ingredients and the kitchen's own.
    pub larder: Larder,
    /// How the page is served; `None` where there is none.
    pub page: Option<Settings>,
}

impl Kitchen {
    /// Reads and checks the file at `path`.
    pub fn read(path: &Path) -> Result<Self, Complaints> {
        Self::parse(&path.display().to_string(), &file::text(path)?)
    }

    /// Checks a kitchen file's text. `name` is what complaints call the file.
    pub fn parse(name: &str, text: &str) -> Result<Self, Complaints> {
        let file = File::parse(name, text)?;
        let kitchen = kitchen(&file.root(KEYS));
        file.finish(kitchen)
    }

    /// The pot of this name.
    #[must_use]
    pub fn pot(&self, name: &str) -> Option<&Pot> {
        self.pots.iter().find(|pot| pot.name == name)
    }

    /// Where the pot of this name stands on the stove.
    #[must_use]
    pub fn stove(&self, name: &str) -> Option<&Stove> {
        let place = self.pots.iter().position(|pot| pot.name == name)?;
        self.stoves.get(place)?.as_ref()
    }

    /// The pots' names, as a list to be read.
    #[must_use]
    pub fn pot_names(&self) -> String {
        let names: Vec<_> = self.pots.iter().map(|pot| format!("\"{}\"", pot.name)).collect();
        names.join(", ")
    }
}

fn kitchen(root: &Section<'_>) -> Option<Kitchen> {
    let place = root.table("site", SITE_KEYS);
    let name = place.as_ref().and_then(|place| place.text_or_none("name"));
    let site = place.as_ref().and_then(site);
    let board = board::board(root);
    let broker = match root.table_or_none("mqtt", broker::KEYS) {
        Some(section) => broker::read(&section).map(Some),
        None => Some(None),
    };
    let alerts = match root.table_or_none("alerts", alerts::KEYS) {
        Some(section) => alerts::read(&section).map(Some),
        None => Some(None),
    };
    let pots = pots(root);
    let habits = match root.table_or_none("rules", rules::KEYS) {
        Some(section) => rules::read(&section),
        None => Some(Habits::default()),
    };
    let page = root.table_or_none("page", page::KEYS).map(|section| page::read(&section));
    let larder = Larder::bundled().with(ingredients(root)?);
    let (site, board, broker, alerts, habits) = (site?, board?, broker?, alerts?, habits?);
    let Pots { pots, sensors, stoves, batches } = pots?;
    let page = match page {
        Some(page) => Some(page?),
        None => None,
    };
    Some(Kitchen {
        name,
        site,
        pots,
        board,
        sensors,
        stoves,
        batches,
        broker,
        alerts,
        habits,
        larder,
        page,
    })
}

fn ingredients(root: &Section<'_>) -> Option<Vec<Ingredient>> {
    let bundled = Larder::bundled();
    let sections = root.tables("ingredient", ingredient::KEYS)?;
    let read: Vec<_> = sections.iter().map(|section| ingredient::read(section, &bundled)).collect();
    read.into_iter().collect()
}

fn site(section: &Section<'_>) -> Option<Site> {
    // From the shore of the Dead Sea to the highest towns.
    let altitude_m = section.number("altitude_m", -450.0..=5500.0, "m above the sea");
    let pressure_hpa = section.number_or_none("pressure_hpa", 450.0..=1100.0, "hPa");
    let pressure = pressure_hpa.and_then(|hpa| Pascals::new(hpa * 100.0));
    Some(Site { altitude_m: altitude_m?, pressure })
}

/// The pots and what belongs to each, in one order.
#[derive(Default)]
struct Pots {
    pots: Vec<Pot>,
    sensors: Vec<Sensors>,
    stoves: Vec<Option<Stove>>,
    batches: Vec<Option<PathBuf>>,
}

fn pots(root: &Section<'_>) -> Option<Pots> {
    let sections = root.tables("pot", POT_KEYS)?;
    if sections.is_empty() {
        root.refuse("pot", "there is no pot", "at least one [[pot]] table");
    }
    let mut all = Pots::default();
    for section in &sections {
        let (pot, sensors, stove) = (pot(section), board::sensors(section), stove::read(section));
        let (Some(pot), Some(sensors), Some(stove)) = (pot, sensors, stove) else { continue };
        if all.pots.iter().any(|other| other.name == pot.name) {
            let wrong = format!("\"{}\" is the name of an earlier pot too", pot.name);
            section.refuse("name", wrong, "a name of its own for each pot");
        }
        board::refuse_shared(section, &all.sensors, &sensors);
        all.pots.push(pot);
        all.sensors.push(sensors);
        all.stoves.push(stove);
        all.batches.push(section.text_or_none("batch").map(PathBuf::from));
    }
    (!all.pots.is_empty()).then_some(all)
}

fn pot(section: &Section<'_>) -> Option<Pot> {
    let name = pot_name(section);
    let base_diameter_m = section.number("base_diameter_m", 0.08..=2.0, "m");
    let height_m = section.number_or_none("height_m", 0.03..=2.0, "m");
    let tare_kg = section.number("tare_kg", 0.0..=500.0, "kg");
    let lid_kg = section.number("lid_kg", 0.0..=100.0, "kg");
    Some(Pot {
        name: name?,
        base_diameter_m: base_diameter_m?,
        tare_kg: tare_kg?,
        lid_kg: lid_kg?,
        height_m,
    })
}

/// A pot's name stands in addresses and topics, so what has a meaning there is refused.
fn pot_name(section: &Section<'_>) -> Option<String> {
    let name = section.text("name")?;
    if name.chars().count() > 40 || name.starts_with('$') || name.contains(['/', '+', '#']) {
        let allowed = "1 to 40 characters other than / + #, not beginning with $";
        section.refuse("name", format!("\"{name}\" cannot be"), allowed);
        return None;
    }
    Some(name)
}

#[cfg(test)]
mod tests {
    use super::*;

    const GOOD: &str = "[site]\naltitude_m = 40.0\n\n[[pot]]\nname = \"big\"\n\
        base_diameter_m = 0.40\ntare_kg = 6.2\nlid_kg = 1.35\n";

    fn complaints(text: &str) -> Vec<String> {
        let complaints = Kitchen::parse("kitchen.toml", text).unwrap_err();
        complaints.0.iter().map(ToString::to_string).collect()
    }

    #[test]
    fn a_kitchen_is_understood() {
        let kitchen = Kitchen::parse("kitchen.toml", GOOD).unwrap();
        assert_eq!(kitchen.site.altitude_m, 40.0);
        assert_eq!(kitchen.pot("big").map(|pot| pot.tare_kg), Some(6.2));
        assert_eq!(kitchen.pot("small"), None);
    }

    #[test]
    fn everything_that_is_wrong_is_told_at_once_with_its_line() {
        let text = GOOD
            .replace("altitude_m = 40.0", "altitude_m = nan")
            .replace("tare_kg = 6.2", "tare_kg = 1e9")
            .replace("lid_kg = 1.35", "lid = 1.35");
        assert_eq!(
            complaints(&text),
            [
                "kitchen.toml, line 2, site.altitude_m: nan cannot be; allowed: -450 to 5500 m above the sea",
                "kitchen.toml, line 4, pot.lid_kg: is missing; allowed: 0 to 100 kg",
                "kitchen.toml, line 7, pot.tare_kg: 1e9 cannot be; allowed: 0 to 500 kg",
                "kitchen.toml, line 8, pot.lid: is not a key of this table; allowed: name, base_diameter_m, height_m, tare_kg, lid_kg, flame_kw, gas, efficiency, batch, sensors",
            ]
        );
    }

    #[test]
    fn two_pots_of_one_name_are_refused() {
        let pot = GOOD.split_once("\n\n").unwrap().1;
        let told = complaints(&format!("{GOOD}{pot}"));
        assert_eq!(told.len(), 1);
        assert!(
            told[0].contains("line 10, pot.name: \"big\" is the name of an earlier pot"),
            "{told:?}"
        );
    }

    #[test]
    fn a_flame_rules_and_own_ingredients_are_understood() {
        let text = format!(
            "{GOOD}flame_kw = 8\ngas = \"propane\"\n\n[rules]\nplace = \"scotland\"\n\n\
             [[ingredient]]\nname = \"coconut cream\"\ncup_g = 240\n\
             per_100_g = {{ fat = 20, carbohydrate = 5, fibre = 1, protein = 2, salt = 0.05 }}\n\n\
             [[ingredient]]\nname = \"House Masala\"\nlike = \"curry powder\"\n\
             contains = [\"mustard\"]\n"
        );
        let kitchen = Kitchen::parse("kitchen.toml", &text).unwrap();
        assert_eq!(kitchen.stove("big").map(|stove| stove.flame_w), Some(8000.0));
        assert_eq!(kitchen.habits.rules.hold.allowance_s, None);
        let coconut = kitchen.larder.find("Coconut Cream").unwrap();
        assert!((coconut.composition.water() - 0.7195).abs() < 1e-9);
        let masala = kitchen.larder.find("house masala").unwrap();
        assert_eq!(masala.contains, [crate::batch::allergen::Allergen::Mustard]);
        assert!((masala.composition.water() - 0.088).abs() < 1e-3);
    }

    #[test]
    fn a_flame_without_its_gas_and_a_place_without_rules_are_refused() {
        let told = complaints(&format!("{GOOD}flame_kw = 8\n[rules]\nplace = \"atlantis\"\n"));
        assert!(told.iter().any(|t| t.contains("pot.gas: is missing")), "{told:?}");
        assert!(told.iter().any(|t| t.contains("rules.place: \"atlantis\" has no rules here")));
        let own = "[[ingredient]]\nname = \"x\"\nlike = \"oinon\"\ncontains = [\"chalk\"]\n";
        let told = complaints(&format!("{GOOD}{own}"));
        assert!(told[0].contains("did you mean onion"), "{told:?}");
    }

    #[test]
    fn an_empty_file_and_broken_text_are_refused() {
        assert_eq!(complaints("").len(), 2);
        assert!(complaints("[site\n")[0].starts_with("kitchen.toml, line 1: "));
        assert!(complaints("site = 3\npot = 4").iter().all(|told| told.contains("cannot be")));
    }

    #[test]
    fn a_name_with_a_meaning_in_topics_is_refused() {
        assert!(complaints(&GOOD.replace("\"big\"", "\"a/b\""))[0].contains("pot.name"));
    }
}
