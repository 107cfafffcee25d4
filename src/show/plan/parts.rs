//! What a plan says, part by part.

use crate::batch::allergen;
use crate::batch::course::{Step, stages_of};
use crate::batch::ingredient::Source;
use crate::batch::measure::Kind;
use crate::batch::outlook::{SALTY, TOO_SALTY};
use crate::batch::recipe::{Item, Later, Load};
use crate::batch::rules::{DEFER, Stretch};
use crate::batch::spread::Range;
use crate::batch::wanted::{BOSTWICK_END_CM, BOSTWICK_POURS_CM, Measures, Wanted};
use crate::show::escape::printable;

use super::{Part, Planned, Row};

/// The trade's proportions to 3 litres of blended gravy, litres of thinning water and of cream:
/// common practice, no source.
const THINNING_TO_3_L: f64 = 1.1;
const CREAM_TO_3_L: f64 = 0.125;

/// The name over everything.
#[must_use]
pub fn title(planned: &Planned<'_>) -> String {
    printable(&planned.outlook.recipe.name)
}

/// In which pot, and where.
#[must_use]
pub fn place(planned: &Planned<'_>) -> String {
    let kitchen = planned.kitchen.map(|name| format!(", {name}")).unwrap_or_default();
    printable(&format!("In the pot \"{}\"{kitchen}.", planned.pot.name))
}

/// What a cook wants to know first.
#[must_use]
pub fn summary(planned: &Planned<'_>) -> Vec<String> {
    let outlook = planned.outlook;
    let portions = outlook
        .portions
        .zip(outlook.recipe.portion_l)
        .map(|(portions, litres)| format!(", {portions} portions of {:.0} ml", litres * 1000.0));
    let made = format!(
        "Makes about {:.1} l of gravy{}.",
        outlook.yield_l.p50,
        portions.unwrap_or_default()
    );
    let takes = match outlook.minutes {
        Some(time) => format!(
            "Takes about {}, between {} and {} in four of five batches.",
            hours(time.p50),
            hours(time.p10),
            hours(time.p90)
        ),
        None => "How long it takes is not known: the kitchen file gives this pot no flame_kw."
            .to_owned(),
    };
    vec![place(planned), made, takes]
}

/// All parts in order.
#[must_use]
pub fn all(planned: &Planned<'_>) -> Vec<Part> {
    let mut parts = vec![weigh_out("Weigh out for the start", &planned.outlook.recipe.start)];
    parts.extend(planned.outlook.recipe.later.iter().map(|later| addition(planned, later)));
    parts.extend([room(planned), water(planned), target(planned), times(planned)]);
    parts.extend([gas(planned), salt(planned), allergens(planned), cautions(planned)]);
    parts.retain(|part| !part.rows.is_empty() || !part.sentences.is_empty());
    parts
}

fn weigh_out(heading: &str, load: &Load) -> Part {
    let rows = match load {
        Load::Measured(items) => items.iter().map(item).collect(),
        Load::Stated { kg, composition } => {
            let solids = format!("{:.1} % total solids", 100.0 * composition.total_solids());
            vec![Row::new("ready mixed", mass(*kg), solids)]
        }
    };
    Part { heading: heading.to_owned(), rows, sentences: vec![] }
}

fn item(item: &Item) -> Row {
    let weighed = matches!(item.amount.unit.kind(), Kind::Mass(_));
    let note = if weighed { String::new() } else { item.amount.to_string() };
    Row::new(printable(&item.name), mass(item.kg), note)
}

fn addition(planned: &Planned<'_>, later: &Later) -> Part {
    let outlook = planned.outlook;
    let stages = stages_of(&outlook.recipe);
    let when = match later.stage.and_then(|stage| stages.get(stage)) {
        Some(stage) if later.at == 0.0 => format!(", as \"{}\" begins", stage.name),
        Some(stage) if later.at == 1.0 => format!(", at the end of \"{}\"", stage.name),
        Some(stage) => format!(", halfway through \"{}\"", stage.name),
        None => String::new(),
    };
    let at = outlook.recipe.later.iter().position(|other| other == later);
    let poured = at.and_then(|at| outlook.course.poured.get(at));
    let time = at.and_then(|at| outlook.poured_min.get(at).copied().flatten());
    let time = time.map(|time| format!(", about {} in", hours(time.p50))).unwrap_or_default();
    let heading = printable(&format!("Then {}{when}{time}", later.name));
    let mut part = weigh_out(&heading, &later.load);
    if later.load.items().len() > 1 {
        part.rows.push(Row::new("in all", mass(later.load.kg()), ""));
    }
    part.sentences.extend(poured.and_then(|poured| proportion(later, poured.before_l)));
    part.sentences.extend(whose_cream(&later.load));
    part
}

/// Which cream is meant where the name leaves it open.
fn whose_cream(load: &Load) -> Option<String> {
    let light = Source::Sr28 { ndb: "01050".to_owned() };
    load.items().iter().any(|item| item.ingredient.source == light).then(|| {
        "Reckoned as the USDA's light cream, 19.1 % fat; UK single cream has 18 % or more.".into()
    })
}

/// How an addition compares with the trade's proportions.
fn proportion(later: &Later, before_l: f64) -> Option<String> {
    let per_3_l = |litres: f64| 3.0 * litres / before_l;
    if before_l <= 0.0 {
        return None;
    }
    let creams = later.load.items().iter().filter(|item| item.ingredient.name.contains("cream"));
    let cream_l: f64 = creams.filter_map(|item| Some(item.kg / item.ingredient.kg_per_l()?)).sum();
    let water_l = later.load.tap_water_l();
    if cream_l > 0.0 {
        return Some(format!(
            "{:.0} ml of cream to 3 l in the pot; common practice is about {:.0} ml (no source).",
            1000.0 * per_3_l(cream_l),
            1000.0 * CREAM_TO_3_L
        ));
    }
    (water_l > 0.0 && later.name.to_lowercase().contains("thin")).then(|| {
        format!(
            "{:.2} l of water to 3 l in the pot; common practice is about {THINNING_TO_3_L} l \
             after blending (no source).",
            per_3_l(water_l)
        )
    })
}

fn room(planned: &Planned<'_>) -> Part {
    let outlook = planned.outlook;
    let fullest = litres(outlook.course.fullest_l());
    let mut rows = vec![];
    match outlook.room {
        Some(room) => {
            let note = format!("of {}, a fifth free for foam", litres(room.boiling_l));
            rows.push(Row::new("at its fullest", fullest, note));
            if let Some(blending_l) = outlook.course.fullest_blending_l() {
                let note = format!("of {}, 30 % free for splashes", litres(room.blending_l));
                rows.push(Row::new("blended hot", litres(blending_l), note));
            }
        }
        None => rows.push(Row::new("at its fullest", fullest, "the pot's height is not known")),
    }
    if (outlook.factor - 1.0).abs() > 0.005 {
        let size = format!("× {:.2}", outlook.factor);
        rows.push(Row::new("size", size, "of the batch as written"));
    }
    Part { heading: "Room in the pot".into(), rows, sentences: vec![] }
}

fn water(planned: &Planned<'_>) -> Part {
    let outlook = planned.outlook;
    let (start_l, later_l) = outlook.water_l();
    let boils = outlook.boil_off_kg;
    let rows = vec![
        Row::new("in at the start", litres(start_l), ""),
        Row::new("in later", litres(later_l), ""),
        Row::new(
            "must boil off",
            format!("{:.1} kg", boils.p50),
            between(boils, |kg| format!("{kg:.1}")),
        ),
    ];
    Part { heading: "Water".into(), rows, sentences: vec![] }
}

fn target(planned: &Planned<'_>) -> Part {
    let outlook = planned.outlook;
    let share =
        |share: Option<f64>| share.map_or("not known".into(), |s| format!("{:.1} %", 100.0 * s));
    let solids = |when: &str, of: Option<f64>| Row::new("total solids", share(of), when);
    let mut rows = vec![solids("at the start", outlook.course.start.total_solids())];
    let mut part = Part { heading: "How thick".into(), ..Part::default() };
    if let (Some(wanted), Some(right)) = (&outlook.recipe.wanted, &outlook.right) {
        part.heading = format!("When it is right: {wanted}");
        let doubt = match right.contents_sd_kg {
            sd if sd > 0.005 => format!("± {:.1} kg, from the measure", 1.28 * sd),
            _ => String::new(),
        };
        let of_all = format!("{:.0} % of all that went in", 100.0 * right.reduced_by);
        let boiled = format!("{:.1} kg", outlook.course.evaporated_kg());
        rows.extend([
            solids("when it is right", Some(right.total_solids)),
            Row::new("left in the pot", format!("{:.1} kg", right.contents_kg), doubt),
            Row::new("or", litres(right.litres), "hot"),
            Row::new("dip depth", format!("{:.1} cm", right.dip_cm), "where walls are straight"),
            Row::new("reduced by", boiled, of_all),
            Row::new(
                "refractometer",
                format!("{:.1} °Brix", right.brix),
                format!("± {:.1}, filtered, 20 °C", right.brix_doubt),
            ),
        ]);
        rows.push(bostwick(right));
        part.sentences.push(
            "Brix sees no fat, fibre or starch: it stays well below total solids.".to_owned(),
        );
        part.sentences.extend(thickness(wanted));
    }
    rows.push(solids("finished", outlook.course.finish.total_solids()));
    Part { rows, ..part }
}

fn bostwick(right: &Measures) -> Row {
    let (cm, doubt_cm) = (right.bostwick_cm, right.bostwick_doubt_cm);
    match cm {
        cm if cm > BOSTWICK_END_CM => Row::new("Bostwick", "off scale", "it pours: past 24 cm"),
        cm if cm > BOSTWICK_POURS_CM => {
            Row::new("Bostwick", format!("{cm:.0} cm"), format!("± {doubt_cm:.0}; it pours"))
        }
        cm => Row::new("Bostwick", format!("{cm:.0} cm"), format!("± {doubt_cm:.0}, 30 s, 20 °C")),
    }
}

/// What has to be said of a reading of thickness.
fn thickness(wanted: &Wanted) -> Option<String> {
    match wanted {
        Wanted::Bostwick { cm, seen } => {
            let pours = if *cm >= BOSTWICK_POURS_CM {
                "A gravy that runs this far pours, and the reading means little: ask for a line spread. "
            } else {
                ""
            };
            let from = match seen {
                Some(_) => "from the kitchen's own measured pair",
                None => "from tomato sauce, until this kitchen has measured one of its own",
            };
            Some(format!("{pours}Bostwick at 20 °C, 30 s, {from}; past 24 cm the trough ends."))
        }
        Wanted::LineSpread { .. } => {
            Some("Line spread on a level plate at the same temperature as the one measured.".into())
        }
        _ => None,
    }
}

fn times(planned: &Planned<'_>) -> Part {
    let outlook = planned.outlook;
    let row = |(step, minutes): (&Step, &Option<Range>)| {
        let took = minutes.map_or("not known".into(), |time| hours(time.p50));
        let spread = minutes.map(|time| between(time, hours)).unwrap_or_default();
        Row::new(printable(&step.name), took, spread)
    };
    let mut rows: Vec<Row> =
        outlook.course.steps.iter().zip(&outlook.stage_minutes).map(row).collect();
    if let Some(time) = outlook.minutes {
        rows.push(Row::new("in all", hours(time.p50), between(time, hours)));
    }
    let flame = planned.stove.map(|stove| {
        format!(
            "At the usual flame, {:.1} kW net of which {:.0} % ± {:.0} reaches the food. Water \
             boils at {:.1} °C here. The ranges hold four of five batches.",
            stove.flame_w / 1000.0,
            100.0 * stove.efficiency,
            100.0 * stove.efficiency_sd,
            planned.boil_c
        )
    });
    Part { heading: "Times".into(), rows, sentences: flame.into_iter().collect() }
}

fn gas(planned: &Planned<'_>) -> Part {
    let (Some(gas), Some(stove)) = (planned.outlook.gas, planned.stove) else {
        return Part::default();
    };
    let unit = stove.gas.unit();
    let value = format!("{:.2} {unit}", gas.p50);
    let rows = vec![Row::new(stove.gas.name(), value, between(gas, |g| format!("{g:.2}")))];
    let sentences = vec![format!(
        "At a net heating value of {:.1} MJ/{unit} and an efficiency of {:.0} %.",
        stove.gas.net_j() / 1e6,
        100.0 * stove.efficiency
    )];
    Part { heading: "Gas".into(), rows, sentences }
}

fn salt(planned: &Planned<'_>) -> Part {
    let salt = planned.outlook.salt();
    let word = match salt {
        s if s >= TOO_SALTY => "too salty for most: weigh less salt",
        s if s >= SALTY => "it will taste of salt",
        _ => "mild; dishes are salted later",
    };
    let kg = planned.outlook.course.finish.salt_kg();
    let rows = vec![
        Row::new("when finished", format!("{:.2} %", 100.0 * salt), word),
        Row::new("in all", mass(kg), "all sodium as salt"),
    ];
    let sentences = vec![format!(
        "From {:.1} % it tastes of salt (common practice, no source).",
        100.0 * SALTY
    )];
    Part { heading: "Salt".into(), rows, sentences }
}

fn allergens(planned: &Planned<'_>) -> Part {
    let recipe = &planned.outlook.recipe;
    let may = recipe.may_contain();
    let (contains, note) = allergen::told(&recipe.contains(), recipe.tells_allergens());
    let mut rows = vec![Row::new("contains", format!("{contains}{note}"), "")];
    if !may.is_empty() {
        rows.push(Row::new("packets may say", allergen::words(&may), ""));
    }
    let sentences = vec![
        "Of the 14 of Regulation (EU) 1169/2011, Annex II. The packet decides; write its lot down."
            .to_owned(),
    ];
    Part { heading: "Allergens".into(), rows, sentences }
}

fn cautions(planned: &Planned<'_>) -> Part {
    let rules = planned.rules;
    let mut said = vec![
        "Never leave a lit flame alone; turn it off when you go. dekchi only advises: it works no flame.".to_owned(),
        "Lift the lid away from you: steam scalds. Thick gravy spits: stir with a long paddle.".to_owned(),
    ];
    if planned.outlook.recipe.stages.iter().any(|stage| stage.blends) {
        said.push("Flame off before blending. In the pot, keep the blender's foot under; in a jug, at most half full, vent open, a cloth over the lid.".into());
    }
    let cool: Vec<_> = rules.cool.stretches.iter().map(Stretch::to_string).collect();
    said.push(format!("Hold hot {} ({}).", rules.hold, rules.hold.source));
    said.push(format!(
        "Cool {} ({}: {}).",
        cool.join(" and "),
        rules.cool.standing.words(),
        rules.cool.source
    ));
    said.push(format!(
        "{DEFER} Gas, ventilation and wiring: as the local code and a licensed fitter say."
    ));
    Part { heading: "Take care".into(), rows: vec![], sentences: said }
}

fn between(range: Range, say: impl Fn(f64) -> String) -> String {
    let (low, high) = (say(range.p10), say(range.p90));
    let low = match (low.strip_suffix(" min"), high.ends_with(" min")) {
        (Some(bare), true) => bare,
        _ => low.as_str(),
    };
    if range.p10 == range.p90 { String::new() } else { format!("{low} to {high}") }
}

/// Minutes as a cook says them.
fn hours(minutes: f64) -> String {
    let minutes = minutes.round().max(0.0);
    match minutes {
        m if m < 90.0 => format!("{m:.0} min"),
        m => format!("{} h {:02.0}", (m / 60.0).floor(), m % 60.0),
    }
}

fn litres(l: f64) -> String {
    format!("{l:.1} l")
}

/// As a kitchen scale shows it.
fn mass(kg: f64) -> String {
    match kg {
        kg if kg >= 10.0 => format!("{kg:.1} kg"),
        kg if kg >= 1.0 => format!("{kg:.2} kg"),
        kg if kg >= 0.02 => format!("{:.0} g", 1000.0 * kg),
        kg => format!("{:.1} g", 1000.0 * kg),
    }
}
