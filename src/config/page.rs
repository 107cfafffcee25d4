//! The local page: a part of the kitchen file.
//!
//! ```toml
//! [page]                           # left out, there is none
//! listen = "0.0.0.0:8080"          # address and port; "127.0.0.1:8080" where it is left out
//! names = ["dekchi.local"]         # what browsers may call the board, beside its addresses
//! reading = "open"                 # whoever reaches the page may read; "paired" where it is left out
//! certificate = "/etc/dekchi/page.pem"   # for https: the certificate with its chain, and its key
//! key = "/etc/dekchi/page.key"
//! ```

use std::net::{Ipv4Addr, SocketAddr};

use crate::serve::{Settings, TlsFiles};

use super::section::Section;

pub const KEYS: &[&str] = &["listen", "names", "reading", "certificate", "key"];

/// Where the page listens unless the file says otherwise: for this machine alone.
pub const LISTEN: SocketAddr = SocketAddr::new(std::net::IpAddr::V4(Ipv4Addr::LOCALHOST), 8080);

/// Reads `[page]`.
#[must_use]
pub fn read(section: &Section<'_>) -> Option<Settings> {
    let listen = listen(section);
    let names = names(section);
    let open = match section.has("reading") {
        true => section.choice("reading", &[("paired", false), ("open", true)]),
        false => Some(false),
    };
    let tls = tls(section);
    Some(Settings { listen: listen?, names: names?, open: open?, tls: tls? })
}

fn listen(section: &Section<'_>) -> Option<SocketAddr> {
    let text = section.text_or("listen", &LISTEN.to_string())?;
    let address = text.parse().ok();
    if address.is_none() {
        let allowed = "an address and a port such as \"0.0.0.0:8080\"";
        section.refuse("listen", format!("\"{text}\" cannot be"), allowed);
    }
    address
}

fn names(section: &Section<'_>) -> Option<Vec<String>> {
    let lines = section.lines("names")?;
    for (name, place) in &lines {
        if !is_host_name(name) {
            let allowed = "host names such as \"dekchi.local\", without port";
            section.refuse_at(place.clone(), "names", format!("\"{name}\" cannot be"), allowed);
        }
    }
    Some(lines.into_iter().map(|(name, _)| name).collect())
}

/// RFC 1123, section 2.1.
fn is_host_name(name: &str) -> bool {
    let label = |label: &str| {
        (1..=63).contains(&label.len())
            && !label.starts_with('-')
            && !label.ends_with('-')
            && label.bytes().all(|b| b.is_ascii_alphanumeric() || b == b'-')
    };
    name.len() <= 253 && name.split('.').all(label) && name.bytes().any(|b| b.is_ascii_alphabetic())
}

/// The outer `None` is something wrong; the inner, no TLS.
#[expect(clippy::option_option, reason = "wrong and left out are two things")]
fn tls(section: &Section<'_>) -> Option<Option<TlsFiles>> {
    match (section.has("certificate"), section.has("key")) {
        (false, false) => Some(None),
        (true, true) => {
            let (certificate, key) = (section.text("certificate"), section.text("key"));
            Some(Some(TlsFiles { certificate: certificate?.into(), key: key?.into() }))
        }
        (true, false) => {
            section.refuse("certificate", "has no key beside it", "certificate and key together");
            None
        }
        (false, true) => {
            section.refuse("key", "has no certificate beside it", "certificate and key together");
            None
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::kitchen::Kitchen;

    fn kitchen(page: &str) -> Result<Kitchen, Vec<String>> {
        let text = format!(
            "[site]\naltitude_m = 40.0\n[[pot]]\nname = \"big\"\nbase_diameter_m = 0.40\n\
             tare_kg = 6.2\nlid_kg = 1.35\n{page}"
        );
        Kitchen::parse("kitchen.toml", &text)
            .map_err(|complaints| complaints.0.iter().map(ToString::to_string).collect())
    }

    #[test]
    fn a_kitchen_without_a_page_serves_none() {
        assert_eq!(kitchen("").unwrap().page, None);
    }

    #[test]
    fn what_is_left_out_is_closed_and_for_this_machine_alone() {
        let page = kitchen("[page]\n").unwrap().page.unwrap();
        assert!(page.listen.ip().is_loopback() && !page.open && page.tls.is_none());
    }

    #[test]
    fn a_page_is_understood() {
        let page = kitchen(
            "[page]\nlisten = \"[::]:443\"\nnames = [\"dekchi.local\", \"pots\"]\n\
             reading = \"open\"\ncertificate = \"/a.pem\"\nkey = \"/b.key\"\n",
        );
        let page = page.unwrap().page.unwrap();
        assert_eq!(page.listen.port(), 443);
        assert_eq!(page.names, ["dekchi.local", "pots"]);
        assert!(page.open);
        assert_eq!(page.tls.unwrap().key.to_str(), Some("/b.key"));
    }

    #[test]
    fn each_wrong_value_gets_its_sentence() {
        for (page, says) in [
            ("[page]\nlisten = \"8080\"\n", "page.listen: \"8080\" cannot be"),
            ("[page]\nlisten = 8080\n", "page.listen"),
            ("[page]\nnames = [\"dekchi.local:8080\"]\n", "without port"),
            ("[page]\nnames = [\"192.168.1.20\"]\n", "page.names"),
            ("[page]\nreading = \"all\"\n", "\"paired\", \"open\""),
            ("[page]\nkey = \"/b.key\"\n", "certificate and key together"),
            ("[page]\ncertificate = \"/a.pem\"\n", "certificate and key together"),
            ("[page]\nport = 1\n", "page.port: is not a key"),
        ] {
            let complaints = kitchen(page).unwrap_err();
            assert!(complaints.iter().any(|c| c.contains(says)), "{says}: {complaints:?}");
        }
    }
}
