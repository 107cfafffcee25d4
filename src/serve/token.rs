//! Tokens and one-time codes: made here, known elsewhere only by their hashes.
//!
//! A token has 256 random bits, so its hash needs no salt. A code has 40 and is typed by hand; it is
//! good once, for minutes, and for few tries.

use base64::Engine as _;
use base64::engine::general_purpose::URL_SAFE_NO_PAD;
use ring::digest::{SHA256, digest};
use ring::rand::{SecureRandom, SystemRandom};

/// SHA-256 of a token or a code.
pub type Hash = [u8; 32];

/// Letters and digits that are not taken for one another, 32 of them.
const LETTERS: &[u8; 32] = b"ABCDEFGHJKLMNPQRSTUVWXYZ23456789";
/// Letters of a code.
const CODE: usize = 8;

/// The system has no random numbers to give.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("the system gives no random numbers")]
pub struct NoRandom;

/// A new token, as it goes into a cookie.
pub fn token() -> Result<String, NoRandom> {
    Ok(URL_SAFE_NO_PAD.encode(random::<32>()?))
}

/// A new one-time code, in two groups: "K7PM-2XQA".
pub fn code() -> Result<String, NoRandom> {
    let letter = |byte: u8| LETTERS[usize::from(byte) % LETTERS.len()] as char;
    let mut code: String = random::<CODE>()?.into_iter().map(letter).collect();
    code.insert(CODE / 2, '-');
    Ok(code)
}

/// Random bytes.
pub fn random<const N: usize>() -> Result<[u8; N], NoRandom> {
    let mut bytes = [0; N];
    SystemRandom::new().fill(&mut bytes).map_err(|_| NoRandom)?;
    Ok(bytes)
}

/// The hash of a token.
#[must_use]
pub fn hash(token: &str) -> Hash {
    let mut hash = [0; 32];
    hash.copy_from_slice(digest(&SHA256, token.as_bytes()).as_ref());
    hash
}

/// The hash of a code however it was typed: small letters, with spaces or without the dash.
#[must_use]
pub fn code_hash(typed: &str) -> Hash {
    let letters = typed.chars().filter(char::is_ascii_alphanumeric).take(64);
    let code: String = letters.map(|c| c.to_ascii_uppercase()).collect();
    hash(&format!("code {code}"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_code_is_known_however_it_is_typed() {
        assert_eq!(code_hash("K7PM-2XQA"), code_hash(" k7pm 2xqa"));
        assert_ne!(code_hash("K7PM-2XQA"), code_hash("K7PM-2XQB"));
        assert_ne!(code_hash("K7PM2XQA"), hash("K7PM2XQA"));
    }

    #[test]
    fn no_two_tokens_or_codes_are_alike() {
        let tokens: std::collections::BTreeSet<_> = (0..100).map(|_| token().unwrap()).collect();
        assert_eq!(tokens.len(), 100);
        assert!(tokens.iter().all(|token| token.len() == 43));
        let codes: std::collections::BTreeSet<_> = (0..100).map(|_| code().unwrap()).collect();
        assert_eq!(codes.len(), 100);
        assert!(codes.iter().all(|code| code.len() == 9));
    }

    #[test]
    fn a_hash_is_sha_256() {
        // FIPS 180-2, appendix B.1: "abc".
        let begins = [0xba, 0x78, 0x16, 0xbf, 0x8f, 0x01, 0xcf, 0xea];
        assert_eq!(hash("abc")[..8], begins);
    }
}
