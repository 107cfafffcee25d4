use super::*;
use crate::batch::plan::Target;

const KITCHEN: &str = "[site]\naltitude_m = 40\n[[pot]]\nname = \"big\"\n\
    base_diameter_m = 0.40\ntare_kg = 6.2\nlid_kg = 1.35\n";
const GOOD: &str = "name = \"Tuesday base\"\npot = \"big\"\n\n[start]\ncontents_kg = 23.6\n\
    lid = \"off\"\n\
    composition = { water = 0.894, solids = 0.072, fat = 0.030, salt = 0.004 }\n\n\
    [[addition]]\nname = \"cream\"\nkg = 0.43\n\
    composition = { water = 0.735, solids = 0.075, fat = 0.190, salt = 0.0 }\n\n\
    [target]\ntotal_solids = 0.118\n";

fn read(text: &str) -> Result<Plan, String> {
    let kitchen = Kitchen::parse("kitchen.toml", KITCHEN).unwrap();
    parse("batch.toml", text, &kitchen).map_err(|complaints| complaints.to_string())
}

fn refused(from: &str, to: &str) -> String {
    assert!(GOOD.contains(from));
    read(&GOOD.replace(from, to)).unwrap_err()
}

#[test]
fn a_batch_is_understood() {
    let plan = read(GOOD).unwrap();
    assert_eq!(plan.start.contents_kg, 23.6);
    assert!(!plan.start.lid_on);
    assert_eq!(plan.additions[0].name, "cream");
    assert_eq!(plan.target, Some(Target::TotalSolids(0.118)));
}

#[test]
fn a_target_may_be_left_out_or_be_a_mass() {
    let (without, _) = GOOD.split_once("[target]").unwrap();
    assert_eq!(read(without).unwrap().target, None);
    let plan = read(&GOOD.replace("total_solids = 0.118", "contents_kg = 21")).unwrap();
    assert_eq!(plan.target, Some(Target::Contents(21.0)));
}

#[test]
fn a_target_that_is_reached_already_is_no_error() {
    assert!(read(&GOOD.replace("0.118", "0.09")).is_ok());
}

#[test]
fn an_unknown_pot_is_refused_with_the_names_that_there_are() {
    assert_eq!(
        refused("pot = \"big\"", "pot = \"bgi\""),
        "batch.toml, line 2, pot: \"bgi\" is no pot of the kitchen file; allowed: \"big\""
    );
}

#[test]
fn a_batch_without_its_pot_is_told_which_pots_there_are() {
    assert_eq!(
        refused("pot = \"big\"\n", ""),
        "batch.toml, line 1, pot: is missing: it says in which pot it is cooked; allowed: \"big\""
    );
}

#[test]
fn fractions_that_make_no_whole_are_refused() {
    let told = refused("water = 0.894", "water = 0.794");
    assert!(
        told.starts_with("batch.toml, line 7, start.composition: the parts sum to 0.9"),
        "{told}"
    );
    assert!(refused("fat = 0.190", "fat = -0.190").contains("line 12, addition.composition.fat"));
}

#[test]
fn absurd_amounts_are_refused_with_what_is_allowed() {
    assert!(
        refused("23.6", "nan").contains("start.contents_kg: nan cannot be; allowed: 0 to 2000")
    );
    assert!(refused("23.6", "236").contains("236 kg do not fit into the pot \"big\""));
    assert!(refused("kg = 0.43", "kg = -1").contains("addition.kg: -1 cannot be"));
    assert!(refused("0.118", "0.0118").contains("more than twice the 24.0 kg"));
    assert!(refused("0.118", "1.18").contains("allowed: 0.01 to 0.95"));
    assert!(refused("\"off\"", "\"of\"").contains("allowed: \"off\", \"on\""));
    assert!(refused("total_solids", "contents_kg = 20\ntotal_solids").contains("two targets"));
    assert!(refused("total_solids = 0.118", "").contains("no target is given"));
}

fn cooks(line: &str) -> Result<Plan, String> {
    let start = "lid = \"on\"\ningredients = [\n  \"8 kg onions, chopped\",\n  \"6 l water\",\n";
    let (from, to) = ("lid = \"off\"\n", format!("{start}  \"{line}\",\n]\n"));
    let text = GOOD.replace("contents_kg = 23.6\n", "").replace(from, &to).replace(
        "composition = { water = 0.894, solids = 0.072, fat = 0.030, salt = 0.004 }\n",
        "",
    );
    read(&text)
}

#[test]
fn a_cook_writes_ingredients_in_kitchen_measures() {
    let plan = cooks("3 tbsp salt").unwrap();
    // SR28: salt 18 g to the tablespoon, onion 89.11 % water, 1000 g water to the litre.
    assert!((plan.start.contents_kg - (8.0 + 6.0 + 0.054)).abs() < 0.012);
    let dry = 8.0 * 0.1089 + 6.0 * 0.001 + 0.054 * 0.998;
    let share = dry / plan.start.contents_kg;
    assert!((plan.start.composition.total_solids() - share).abs() < 3e-4);
    assert!(plan.start.lid_on);
}

#[test]
fn a_line_that_is_not_understood_is_told_with_its_own_line() {
    let told = |line| cooks(line).unwrap_err();
    assert!(
        told("2 kg oinons").starts_with("batch.toml, line 9, start.ingredients: \"oinons\" is no")
    );
    assert!(told("2 kg oinons").contains("did you mean onions"));
    assert!(told("-2 kg onions").contains("is not above zero"));
    assert!(told("2 stone onions").contains("\"stone\" is no measure"));
    assert!(told("some onions").contains("begins with no number"));
    assert!(told("2 kg").contains("names no ingredient"));
    assert!(told("3 cloves onions").contains("pieces that are medium"));
    assert!(told("200 kg onions").contains("do not fit into the pot \"big\""));
}

#[test]
fn targets_come_in_the_trades_measures() {
    let plan = |line: &str| read(&GOOD.replace("total_solids = 0.118", line)).unwrap();
    // Start and cream: 24.03 kg.
    let reduced = plan("reduced_by = 0.1").target.unwrap();
    let (start, cream) = (plan("litres = 20").start, &plan("litres = 20").additions[0]);
    let dry_kg = start.contents_kg * 0.106 + cream.kg * 0.265;
    assert_eq!(reduced.to_string(), format!("{:.1} % total solids", 100.0 * dry_kg / 24.03 / 0.9));
    // 16 cm in a pot 40 cm wide.
    assert_eq!(plan("dip_cm = 16").target.unwrap().to_string(), "20.1 litres are left");
    assert!(matches!(plan("brix = 7").target, Some(Target::Brix { .. })));
    assert!(matches!(plan("bostwick_cm = 14").target, Some(Target::Consistency { .. })));
}

#[test]
fn a_target_that_cannot_be_is_refused_in_a_sentence() {
    let told = |line| refused("total_solids = 0.118", line);
    assert!(told("litres = 1").contains("does not boil away"));
    assert!(told("like_batch = 41").contains("how thick batch 41 was is not known here"));
    assert!(told("line_spread_cm = 9").contains("needs one that was measured"));
    assert!(told("bostwick_cm = 30").contains("allowed: 0.5 to 24 cm, where the trough ends"));
}

#[test]
fn an_addition_is_held_against_the_stages() {
    let stages = "[[stage]]\nname = \"soften\"\nminutes = 45\nlid = \"on\"\n\n[[addition]]\nstage = \"softn\"\n";
    let told = refused("[[addition]]\n", stages);
    assert!(told.contains("\"softn\" is no stage of this batch; allowed: \"soften\""), "{told}");
}
