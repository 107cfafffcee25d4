//! `dekchi pair`: which phones may speak to the pots.

use std::io::IsTerminal;
use std::net::{IpAddr, SocketAddr, UdpSocket};
use std::path::PathBuf;

use clap::{Args as ClapArgs, Subcommand};
use qrcode::QrCode;
use qrcode::render::unicode::Dense1x2;
use serde_json::json;

use crate::config::kitchen::Kitchen;
use crate::daemon::page::{self, CODE_MS, NoCode};
use crate::keep::phones::{self, Phone, Phones, PhonesTrouble};
use crate::serve::Settings;
use crate::show::escape::printable;

use super::failure::Failure;
use super::store::Store;
use super::{batches, environment, output};

/// Where the service has its kitchen file.
const KITCHEN: &str = "/etc/dekchi/kitchen.toml";

/// Pair a phone with the page, list the paired phones, or forget one
///
/// Without more it shows a QR code and a one-time code that pairs one phone within ten minutes: point
/// the phone's camera at it, or open the page and type the code.
#[derive(Debug, ClapArgs)]
#[command(after_help = "Examples:
  dekchi pair --kitchen config/kitchen.toml
  sudo -u dekchi dekchi pair
  dekchi pair list
  dekchi pair forget 2
  dekchi pair forget --all")]
pub struct Args {
    #[command(subcommand)]
    what: Option<What>,
    /// The kitchen file that the page is served by [default: /etc/dekchi/kitchen.toml]
    #[arg(long, value_name = "FILE", global = true)]
    kitchen: Option<PathBuf>,
    /// Print JSON
    #[arg(long, global = true)]
    json: bool,
    #[command(flatten)]
    store: Store,
}

#[derive(Debug, Subcommand)]
enum What {
    /// List the phones that are paired
    List,
    /// Forget a phone: it can read no more than any other, and say nothing
    Forget {
        /// Its number in the list
        #[arg(required_unless_present = "all", conflicts_with = "all")]
        number: Option<i64>,
        /// Every phone, and the code that is good now
        #[arg(long)]
        all: bool,
    },
}

/// Shows a code, lists or forgets.
pub fn run(args: &Args) -> Result<(), Failure> {
    args.store.must_be_there()?;
    let phones = Phones::open_there(&phones::beside(&args.store.to_read()))?;
    match &args.what {
        None => offer(args, &phones),
        Some(What::List) => list(args, &phones),
        Some(What::Forget { number: Some(number), .. }) => match phones.forget(*number)? {
            true => told("forgotten"),
            false => {
                Err(Failure::usage(format!("there is no phone {number}: see dekchi pair list")))
            }
        },
        Some(What::Forget { number: None, .. }) => {
            told(&format!("{} phones forgotten", phones.forget_all()?))
        }
    }
}

fn told(words: &str) -> Result<(), Failure> {
    output::say(words);
    Ok(())
}

fn offer(args: &Args, phones: &Phones) -> Result<(), Failure> {
    let page = settings(args)?;
    let code = page::offer(phones)?;
    let url = page.map(|page| address(&page));
    let pair = url.map(|url| format!("{url}pair?code={code}"));
    if args.json {
        let offered = json!({ "code": code, "url": pair, "good_for_s": CODE_MS / 1000 });
        return output::print(|out| writeln!(out, "{offered}"));
    }
    let picture = pair.as_deref().and_then(picture);
    output::print(|out| {
        if let (Some(pair), Some(picture)) = (&pair, &picture) {
            writeln!(out, "{picture}\n{pair}\n")?;
        }
        writeln!(out, "The code: {code}")
    })?;
    told(
        "It pairs one phone, within ten minutes. Open the page, then \"Pair it\", or scan the picture.",
    )
}

/// How the page is served; `None` where no kitchen file was named and the service has none.
fn settings(args: &Args) -> Result<Option<Settings>, Failure> {
    let path = match &args.kitchen {
        Some(path) => path.clone(),
        None if PathBuf::from(KITCHEN).exists() => PathBuf::from(KITCHEN),
        None => return Ok(None),
    };
    let page = Kitchen::read(&path)?.page;
    page.map(Some).ok_or_else(|| {
        Failure::config(format!("{}: has no [page], so there is none to pair with", path.display()))
    })
}

/// The page's address as a phone in the kitchen has it.
fn address(page: &Settings) -> String {
    let scheme = if page.tls.is_some() { "https" } else { "http" };
    let port = page.listen.port();
    let host = match (page.names.first(), page.listen.ip()) {
        (Some(name), _) => name.clone(),
        (None, ip) if ip.is_unspecified() => own_address(ip).to_string(),
        (None, IpAddr::V6(ip)) => format!("[{ip}]"),
        (None, IpAddr::V4(ip)) => ip.to_string(),
    };
    format!("{scheme}://{host}:{port}/")
}

/// The address by which this machine goes out. Nothing is sent: a connected UDP socket only asks the
/// kernel for its way to an address that is set aside for documents (RFC 5737).
fn own_address(listen: IpAddr) -> IpAddr {
    let way = UdpSocket::bind(SocketAddr::from(([0, 0, 0, 0], 0)));
    let way = way.and_then(|socket| {
        socket.connect(("192.0.2.1", 9))?;
        socket.local_addr()
    });
    way.map_or(listen, |address| address.ip())
}

/// The QR code in half blocks, black on white where the terminal takes colours.
fn picture(url: &str) -> Option<String> {
    let code = QrCode::new(url.as_bytes()).ok()?;
    let coloured = std::io::stdout().is_terminal() && environment::may_colour();
    let mut renderer = code.render::<Dense1x2>();
    if !coloured {
        // Light letters on a dark ground are the more usual.
        renderer.dark_color(Dense1x2::Light).light_color(Dense1x2::Dark);
    }
    let lines = renderer.build();
    if !coloured {
        return Some(lines);
    }
    let lines = lines.lines().map(|line| format!("\x1b[30;107m{line}\x1b[0m\n"));
    Some(lines.collect())
}

fn list(args: &Args, phones: &Phones) -> Result<(), Failure> {
    let list = phones.list()?;
    if list.is_empty() && !args.json {
        return told("no phone is paired; dekchi pair gives a code for one");
    }
    output::print(|out| {
        for Phone { number, name, paired } in &list {
            if args.json {
                let (utc_ms, set) = (paired.utc_ms, paired.set);
                let phone = json!({ "number": number, "name": name, "paired_utc_ms": utc_ms,
                                    "clock_set": set });
                writeln!(out, "{phone}")?;
            } else {
                writeln!(out, "{number:>3}  {}  {}", batches::when(*paired), printable(name))?;
            }
        }
        Ok(())
    })
}

impl From<PhonesTrouble> for Failure {
    fn from(why: PhonesTrouble) -> Self {
        let sentence = why.to_string();
        match why {
            PhonesTrouble::Missing(_) => Self::unavailable(sentence),
            PhonesTrouble::Foreign(_) => Self::config(sentence),
            PhonesTrouble::Io { .. } | PhonesTrouble::Sqlite { .. } => Self::io(sentence),
            PhonesTrouble::WrongCode | PhonesTrouble::Full => Self::failed(sentence),
        }
    }
}

impl From<NoCode> for Failure {
    fn from(why: NoCode) -> Self {
        match why {
            NoCode::Phones(why) => why.into(),
            NoCode::Random(why) => Self::unavailable(why.to_string()),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn page(listen: &str, names: &[&str]) -> Settings {
        let names = names.iter().map(|name| (*name).to_owned()).collect();
        Settings { listen: listen.parse().unwrap(), names, open: false, tls: None }
    }

    #[test]
    fn the_address_is_one_that_the_page_answers_to() {
        assert_eq!(address(&page("0.0.0.0:8080", &["dekchi.local"])), "http://dekchi.local:8080/");
        assert_eq!(address(&page("192.168.1.20:80", &[])), "http://192.168.1.20:80/");
        assert_eq!(address(&page("[fd00::20]:80", &[])), "http://[fd00::20]:80/");
    }

    #[test]
    fn the_picture_holds_the_address() {
        let picture = picture("http://dekchi.local:8080/pair?code=K7PM-2XQA").unwrap();
        let width = picture.lines().map(|line| line.chars().count()).max().unwrap();
        // Version 4 of ISO/IEC 18004 has 33 modules, and four of quiet on each side.
        assert_eq!(width, 41, "{picture}");
    }
}
