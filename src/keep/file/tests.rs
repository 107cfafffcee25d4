use super::*;

#[test]
fn a_new_store_opens_with_a_whole_check() {
    let directory = tempfile::tempdir().unwrap();
    let path = directory.path().join("a.sqlite");
    for _ in 0..2 {
        let db = open(&path, Check::Whole).unwrap().connection;
        let version: i32 = db.pragma_query_value(None, "user_version", |row| row.get(0)).unwrap();
        assert_eq!(version, STEPS.len() as i32);
    }
}

const NEXT: [&str; 3] = [STEPS[0], STEPS[1], "ALTER TABLE learnt ADD COLUMN note TEXT;"];
const BROKEN: [&str; 3] =
    [STEPS[0], STEPS[1], "ALTER TABLE learnt ADD COLUMN note TEXT; NONSENSE;"];

fn old_store(directory: &Path) -> PathBuf {
    let path = directory.join("a.sqlite");
    let db = open(&path, Check::Whole).unwrap().connection;
    db.execute("INSERT INTO learnt VALUES ('big', 0.5, 2)", []).unwrap();
    path
}

fn learnt(db: &Connection) -> f64 {
    let sql = "SELECT bottom_log_scale FROM learnt WHERE pot = 'big'";
    db.query_row(sql, [], |row| row.get(0)).unwrap()
}

#[test]
fn an_older_store_is_copied_and_then_brought_up_to_date() {
    let directory = tempfile::tempdir().unwrap();
    let path = old_store(directory.path());
    let opened = open_with(&path, Check::Whole, &NEXT).unwrap();
    assert_eq!(learnt(&opened.connection), 0.5);
    let copy = opened.copied_before_migration.unwrap();
    assert_eq!(copy, directory.path().join("a.sqlite.before-schema-3"));
    assert_eq!(learnt(&open(&copy, Check::Whole).unwrap().connection), 0.5);
    drop(opened.connection);
    let again = open_with(&path, Check::Whole, &NEXT).unwrap();
    assert_eq!(again.copied_before_migration, None);
    drop(again);
    assert!(matches!(
        open(&path, Check::Whole),
        Err(CannotOpen::Refused(Refusal::Newer { found: 3, known: 2, .. }))
    ));
}

#[test]
fn a_store_of_every_earlier_version_is_brought_up_to_date() {
    for version in 1..STEPS.len() {
        let directory = tempfile::tempdir().unwrap();
        let path = directory.path().join("a.sqlite");
        let old = open_with(&path, Check::Whole, &STEPS[..version]).unwrap().connection;
        old.execute("INSERT INTO learnt VALUES ('big', 0.5, 2)", []).unwrap();
        drop(old);
        let new = open(&path, Check::Whole).unwrap().connection;
        assert_eq!(learnt(&new), 0.5);
        assert!(new.prepare("SELECT * FROM delivery, browsers").is_ok());
    }
}

#[test]
fn a_migration_that_fails_changes_nothing_and_can_be_tried_again() {
    let directory = tempfile::tempdir().unwrap();
    let path = old_store(directory.path());
    assert!(matches!(open_with(&path, Check::Whole, &BROKEN), Err(CannotOpen::Sqlite(_))));
    assert_eq!(learnt(&open(&path, Check::Whole).unwrap().connection), 0.5);
    assert_eq!(learnt(&open_with(&path, Check::Whole, &NEXT).unwrap().connection), 0.5);
}
