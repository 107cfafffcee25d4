//! The names nearest to one that is not known.
//!
//! Distance is the number of letters to put in, take out, change or swap with their neighbour
//! (Damerau 1964, in the restricted form that edits no letter twice).

/// How many names are offered.
const OFFERED: usize = 3;

/// Letters between two words.
#[must_use]
pub fn distance(a: &str, b: &str) -> usize {
    let a: Vec<char> = a.chars().collect();
    let b: Vec<char> = b.chars().collect();
    let mut before: Vec<usize> = Vec::new();
    let mut last: Vec<usize> = (0..=b.len()).collect();
    for i in 1..=a.len() {
        let mut row = vec![i];
        for j in 1..=b.len() {
            let change = last[j - 1] + usize::from(a[i - 1] != b[j - 1]);
            let mut least = change.min(last[j] + 1).min(row[j - 1] + 1);
            if i > 1 && j > 1 && a[i - 1] == b[j - 2] && a[i - 2] == b[j - 1] {
                least = least.min(before[j - 2] + 1);
            }
            row.push(least);
        }
        before = std::mem::replace(&mut last, row);
    }
    last[b.len()]
}

/// Up to three of `names` that are near `word`, nearest first; a name that has the word in it, or
/// is in the word, is near too.
#[must_use]
pub fn nearest<'n>(word: &str, names: impl IntoIterator<Item = &'n str>) -> Vec<&'n str> {
    let word = word.to_lowercase();
    let allowed = 1 + word.chars().count() / 3;
    let mut found: Vec<(usize, &str)> = names
        .into_iter()
        .filter_map(|name| {
            let letters = distance(&word, &name.to_lowercase());
            let within = word.len() > 2 && (name.contains(&word) || word.contains(name));
            (letters <= allowed || within).then_some((letters, name))
        })
        .collect();
    found.sort_unstable();
    found.dedup();
    found.into_iter().take(OFFERED).map(|(_, name)| name).collect()
}

/// "did you mean …?" or nothing.
#[must_use]
pub fn did_you_mean<'n>(word: &str, names: impl IntoIterator<Item = &'n str>) -> String {
    let near = nearest(word, names);
    match near.as_slice() {
        [] => String::new(),
        [one] => format!("did you mean {one}?"),
        [rest @ .., last] => format!("did you mean {} or {last}?", rest.join(", ")),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn letters_are_counted() {
        assert_eq!(distance("onion", "onion"), 0);
        assert_eq!(distance("onoin", "onion"), 1);
        assert_eq!(distance("kitten", "sitting"), 3);
        assert_eq!(distance("", "salt"), 4);
        assert_eq!(distance("crème", "creme"), 1);
    }

    #[test]
    fn the_nearest_names_are_offered_nearest_first() {
        let names = ["onion", "garlic", "ginger", "carrot", "green pepper", "red pepper"];
        assert_eq!(nearest("onoin", names), ["onion"]);
        assert_eq!(nearest("Gralic", names), ["garlic"]);
        assert_eq!(nearest("pepper", names), ["red pepper", "green pepper"]);
        assert_eq!(did_you_mean("pepper", names), "did you mean red pepper or green pepper?");
        assert!(nearest("xylophone", names).is_empty());
        assert_eq!(did_you_mean("xylophone", names), "");
    }
}
