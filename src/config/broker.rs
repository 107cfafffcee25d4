//! The broker that is told what happens: a part of the kitchen file.
//!
//! ```toml
//! [mqtt]                           # left out where nobody is to be told
//! host = "broker.harbour.example"
//! port = 8883                      # 1883 without TLS, 8883 with it
//! tls = true
//! authorities = "/etc/dekchi/ca.crt"   # whom to believe; the system's authorities if left out
//! login_file = "/etc/dekchi/mqtt.login"    # two lines: user name, password
//! board = "harbour-lane"           # this board's name in topics; the host's name if left out
//! client_id = "dekchi-harbour-lane"    # at the broker; made from the machine if left out
//! homie = false                    # tell it by the Homie convention 5 too
//! commands = false                 # whether the cook may speak through …/set
//! reading_every_s = 5
//! curve_every_s = 60
//! ```
//!
//! Paths that are not absolute begin at the kitchen file's directory.

use std::path::PathBuf;

use super::section::Section;

pub const KEYS: &[&str] = &[
    "host",
    "port",
    "tls",
    "authorities",
    "login_file",
    "board",
    "client_id",
    "commands",
    "homie",
    "reading_every_s",
    "curve_every_s",
];

/// Where the broker is, who we are there, and how often it is told.
#[derive(Debug, Clone, PartialEq)]
pub struct Broker {
    pub host: String,
    pub port: u16,
    pub tls: bool,
    /// PEM file of the authorities to be believed; the system's where it is not given.
    pub authorities: Option<PathBuf>,
    pub login_file: Option<PathBuf>,
    pub board: Option<String>,
    pub client_id: Option<String>,
    pub commands: bool,
    /// The pots are told by the Homie convention as well.
    pub homie: bool,
    pub reading_every_s: f64,
    pub curve_every_s: f64,
}

/// Reads `[mqtt]`.
#[must_use]
pub fn read(section: &Section<'_>) -> Option<Broker> {
    let host = host(section);
    let tls = section.flag_or("tls", false);
    let port = section.whole_or("port", if tls == Some(true) { 8883 } else { 1883 }, 1..=65_535);
    let authorities = section.text_or_none("authorities").map(PathBuf::from);
    if tls == Some(false) && section.has("authorities") {
        section.refuse("authorities", "is given without TLS", "tls = true beside it");
    }
    let login_file = section.text_or_none("login_file").map(PathBuf::from);
    let (board, client_id) = (name(section, "board"), name(section, "client_id"));
    let commands = section.flag_or("commands", false);
    let homie = section.flag_or("homie", false);
    let reading_every_s = section.number_or("reading_every_s", 5.0, 1.0..=3600.0, "s");
    let curve_every_s = section.number_or("curve_every_s", 60.0, 5.0..=86_400.0, "s");
    Some(Broker {
        host: host?,
        port: u16::try_from(port?).ok()?,
        tls: tls?,
        authorities,
        login_file,
        board,
        client_id,
        commands: commands?,
        homie: homie?,
        reading_every_s: reading_every_s?,
        curve_every_s: curve_every_s?,
    })
}

fn host(section: &Section<'_>) -> Option<String> {
    let host = section.text("host")?;
    let plain = host.chars().all(|c| c.is_ascii_alphanumeric() || ".-_".contains(c));
    if !plain {
        let allowed = "a host's name or IPv4 address, without a scheme or port";
        section.refuse("host", format!("\"{host}\" cannot be"), allowed);
    }
    plain.then_some(host)
}

/// A name that has no meaning in topics.
fn name(section: &Section<'_>, key: &str) -> Option<String> {
    let name = section.text_or_none(key)?;
    if name.starts_with('$') || name.contains(['/', '+', '#']) || name.chars().count() > 60 {
        let allowed = "1 to 60 characters other than / + #, not beginning with $";
        section.refuse(key, format!("\"{name}\" cannot be"), allowed);
        return None;
    }
    Some(name)
}

#[cfg(test)]
mod tests {
    use super::super::kitchen::Kitchen;
    use super::*;

    const KITCHEN: &str = "[site]\naltitude_m = 40.0\n[[pot]]\nname = \"big\"\n\
        base_diameter_m = 0.40\ntare_kg = 6.2\nlid_kg = 1.35\n";

    fn broker(lines: &str) -> Result<Broker, String> {
        let text = format!("{KITCHEN}[mqtt]\n{lines}");
        let kitchen = Kitchen::parse("k.toml", &text).map_err(|c| c.to_string())?;
        Ok(kitchen.broker.unwrap())
    }

    #[test]
    fn a_host_is_enough() {
        let read = broker("host = \"10.0.0.7\"").unwrap();
        assert_eq!((read.port, read.tls, read.commands), (1883, false, false));
        assert_eq!(broker("host = \"a\"\ntls = true").unwrap().port, 8883);
    }

    #[test]
    fn a_kitchen_may_have_no_broker() {
        assert_eq!(Kitchen::parse("k.toml", KITCHEN).unwrap().broker, None);
    }

    #[test]
    fn each_wrong_value_gets_its_sentence() {
        for (lines, says) in [
            ("port = 1883", "mqtt.host: is missing"),
            ("host = \"mqtt://a:1883\"", "without a scheme or port"),
            ("host = \"a\"\nport = 0", "1 to 65535"),
            ("host = \"a\"\nboard = \"a/b\"", "other than / + #"),
            ("host = \"a\"\nreading_every_s = 0.01", "1 to 3600 s"),
            ("host = \"a\"\npassword = \"x\"", "mqtt.password: is not a key"),
            ("host = \"a\"\nauthorities = \"ca.crt\"", "tls = true beside it"),
        ] {
            let told = broker(lines).unwrap_err();
            assert!(told.contains(says), "{told}");
        }
    }
}
