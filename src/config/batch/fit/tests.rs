use super::*;
use crate::config::batch::read_to_cook;

/// A pot of 50 l for a batch of 23 l, and one of 5 l beside it.
const KITCHEN: &str = "[site]\naltitude_m = 40\n\
    [[pot]]\nname = \"big\"\nbase_diameter_m = 0.40\nheight_m = 0.40\ntare_kg = 6.2\nlid_kg = 1.35\n\
    [[pot]]\nname = \"vat\"\nbase_diameter_m = 0.80\nheight_m = 0.60\ntare_kg = 30\nlid_kg = 5\n";
const GOOD: &str = "name = \"Tuesday base\"\npot = \"big\"\n[start]\ncontents_kg = 23.6\nlid = \"off\"\n\
    composition = { water = 0.894, solids = 0.072, fat = 0.030, salt = 0.004 }\n\
    [[addition]]\nname = \"cream\"\nkg = 0.43\n\
    composition = { water = 0.735, solids = 0.075, fat = 0.190, salt = 0.0 }\n\
    [target]\ntotal_solids = 0.118\n";

fn kitchen() -> Kitchen {
    Kitchen::parse("kitchen.toml", KITCHEN).unwrap()
}

fn cooked(text: &str, pot: Option<&str>, size: Size) -> Result<Batch, String> {
    let directory = tempfile::tempdir().unwrap();
    let path = directory.path().join("batch.toml");
    std::fs::write(&path, text).unwrap();
    let read = read_to_cook(&path, &kitchen(), &|_| None, (pot, size));
    read.map_err(|complaints| complaints.to_string())
}

fn refused(from: &str, to: &str) -> String {
    assert!(GOOD.contains(from));
    cooked(&GOOD.replace(from, to), None, Size::AsWritten).unwrap_err()
}

fn words(text: &str, pot: &str) -> Vec<String> {
    let batch = cooked(text, None, Size::AsWritten).unwrap();
    super::words(&batch.recipe, &kitchen(), kitchen().pot(pot).unwrap())
}

#[test]
fn a_batch_that_fits_its_pot_has_nothing_said_of_it() {
    assert!(cooked(GOOD, None, Size::AsWritten).is_ok());
    assert_eq!(words(GOOD, "big"), [""; 0]);
}

#[test]
fn a_target_that_boiling_cannot_bring_about_is_told_with_its_line_and_what_can_be() {
    let told = refused("0.118", "0.09");
    assert!(told.contains("batch.toml, line 12, target.total_solids: boiling cannot"), "{told}");
    // Start and cream: 10.9 % dry matter in 24.03 kg.
    assert!(told.contains("allowed: 0.109 or more of total solids"), "{told}");
    assert!(told.contains("l more water"), "{told}");
}

#[test]
fn a_dip_or_a_fill_deeper_than_the_pot_is_told() {
    let full = GOOD.replace("23.6", "30").replace("total_solids = 0.118", "dip_cm = 41");
    let told = cooked(&full, None, Size::AsWritten).unwrap_err();
    assert!(told.contains("line 12, target.dip_cm: 41.0 cm is deeper than the pot"), "{told}");
    assert!(told.contains("allowed: 0.5 to 40 cm"), "{told}");
    let told = cooked(&GOOD.replace("kg = 0.43", "kg = 30"), None, Size::AsWritten).unwrap_err();
    assert!(told.contains("line 4, start.contents_kg"), "{told}");
    assert!(told.contains("allowed: 50.3 l at the fullest"), "{told}");
}

#[test]
fn a_dip_depth_moves_with_the_pot_that_it_is_planned_in() {
    let text = GOOD.replace("total_solids = 0.118", "dip_cm = 16");
    assert!(cooked(&text, None, Size::AsWritten).is_ok());
    assert!(cooked(&text, Some("vat"), Size::AsWritten).is_ok());
}

#[test]
fn a_small_batch_in_a_vat_is_warned_of_and_so_is_one_that_leaves_no_room_for_foam() {
    let told = words(GOOD, "vat").join("");
    assert!(told.contains("of the 241.3 l that it takes"), "{told}");
    assert!(told.contains("cm deep at the fullest") && told.contains("catches sooner"), "{told}");
    let told = words(&GOOD.replace("23.6", "44"), "big").join("");
    assert!(
        told.contains("as it is written") && told.contains("40.2 l with room left for foam"),
        "{told}"
    );
    assert!(told.ends_with("dekchi plan scales it"), "{told}");
}
