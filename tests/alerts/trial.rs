//! `dekchi test-alerts` as who sets up a kitchen runs it, against a listener and a mail sink on this
//! machine.

use std::fs;
use std::os::unix::fs::PermissionsExt;
use std::path::Path;
use std::process::Command;
use std::time::Duration;

use crate::http::{self, Answer};
use crate::smtp::{self, Mood};

const POT: &str = "[site]\naltitude_m = 40.0\n[[pot]]\nname = \"big\"\nbase_diameter_m = 0.4\n\
                   tare_kg = 6.2\nlid_kg = 1.35\n";
const PATIENT: Duration = Duration::from_secs(60);

/// Exit code, what was said to stdout, what to stderr.
fn tried(folder: &Path, kitchen: &str, more: &[&str]) -> (i32, String, String) {
    let secret = folder.join("webhook.secret");
    fs::write(&secret, "onions, garlic, ginger, salt\n").unwrap();
    fs::set_permissions(&secret, fs::Permissions::from_mode(0o600)).unwrap();
    fs::write(folder.join("kitchen.toml"), kitchen).unwrap();
    let out = Command::new(env!("CARGO_BIN_EXE_dekchi"))
        .args(["test-alerts", "--kitchen", "kitchen.toml", "--store", "s.sqlite"])
        .args(more)
        .current_dir(folder)
        .output()
        .unwrap();
    let text = |bytes: Vec<u8>| String::from_utf8(bytes).unwrap();
    (out.status.code().unwrap(), text(out.stdout), text(out.stderr))
}

fn alerts(webhook: u16, mail: u16) -> String {
    format!(
        "[alerts.webhook]\nurl = \"http://127.0.0.1:{webhook}/pots\"\n\
         secret_file = \"webhook.secret\"\n\
         [alerts.mail]\nhost = \"127.0.0.1\"\nport = {mail}\ntls = \"none\"\n\
         from = \"pots@harbour.example\"\n\
         [[alerts.person]]\nname = \"pass\"\nby = [\"webhook\", \"mail\"]\n\
         mail = \"pass@harbour.example\"\n"
    )
}

#[test]
fn a_kitchen_that_names_nobody_is_told_so_and_is_not_well_set_up() {
    let folder = tempfile::tempdir().unwrap();
    let page = "[page]\nlisten = \"127.0.0.1:1\"\nreading = \"open\"\n";
    for more in ["", page] {
        let (code, _, said) = tried(folder.path(), &format!("{POT}{more}"), &[]);
        assert_eq!(code, 78, "{said}");
        assert!(said.contains("kitchen.toml: [[alerts.person]] is missing"), "{said}");
        assert!(said.trim().lines().count() == 1, "{said}");
    }
}

#[test]
fn one_trial_goes_to_each_person_by_each_way() {
    let folder = tempfile::tempdir().unwrap();
    let (hook, post) = (http::Server::start(Answer::Status(204)), smtp::Server::start(Mood::Kind));
    let kitchen = format!("{POT}{}", alerts(hook.port, post.port));
    let (code, told, said) = tried(folder.path(), &kitchen, &[]);
    assert_eq!(code, 0, "{told}{said}");
    assert!(told.contains("pass by webhook: arrived") && told.contains("pass by mail: arrived"));
    let request = hook.requests.recv_timeout(PATIENT).unwrap();
    assert!(String::from_utf8_lossy(&request.body).contains("\"kind\":\"trial\""));
    assert!(request.header("dekchi-signature").starts_with("hmac-sha256="));
    let letter = post.messages.recv_timeout(PATIENT).unwrap();
    assert!(letter.contains("pass@harbour.example") && letter.contains("This is a trial"));
    let (code, _, said) = tried(folder.path(), &kitchen, &["--person", "owner"]);
    assert_eq!(code, 2);
    assert!(
        said.contains("\"owner\" is not told of alerts; the kitchen file names pass"),
        "{said}"
    );
}

#[test]
fn a_way_that_is_down_is_named_and_the_others_are_tried() {
    let folder = tempfile::tempdir().unwrap();
    let post = smtp::Server::start(Mood::Kind);
    let kitchen = format!("{POT}{}", alerts(http::closed_port(), post.port));
    let (code, told, said) = tried(folder.path(), &kitchen, &[]);
    assert_eq!(code, 1, "{told}{said}");
    assert!(told.contains("pass by webhook: did not arrive"), "{told}");
    assert!(told.contains("pass by mail: arrived") && said.contains("1 trial alert did not"));
}

#[test]
fn a_lamp_whose_pins_are_not_there_is_told_in_words_and_the_people_all_the_same() {
    if Path::new("/dev/gpiomem").exists() || Path::new("/dev/gpiochip0").exists() {
        return;
    }
    let folder = tempfile::tempdir().unwrap();
    let (hook, post) = (http::Server::start(Answer::Status(200)), smtp::Server::start(Mood::Kind));
    let kitchen = format!("{POT}[board]\nlamp = true\n{}", alerts(hook.port, post.port));
    let (code, told, said) = tried(folder.path(), &kitchen, &[]);
    assert_eq!(code, 1, "{told}{said}");
    assert!(told.contains("lamp and buzzer: not tried ("), "{told}");
    assert!(told.contains("they would show: lamp red, flashing fast: act now; buzzer"), "{told}");
    assert!(told.contains("pass by mail: arrived"), "{told}");
}
