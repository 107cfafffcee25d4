//! RGB pixels as a PNG with a palette, a third of the size of one without.
//!
//! A drawing has a dozen colours and, where edges were smoothed, thousands between them, most of
//! them on a few pixels. The 256 commonest are kept (the lower value first where two are as common)
//! and every other pixel takes the nearest of those, so the bytes depend on the pixels alone.

use std::collections::BTreeMap;

/// Colours that a palette of bytes can number.
const MOST: usize = 256;

type Pixel = [u8; 3];

/// The PNG file of `width` × `height` RGB pixels.
pub fn png(rgb: &[u8], width: u32, height: u32) -> Result<Vec<u8>, png::EncodingError> {
    let (palette, pixels) = indexed(rgb);
    let mut bytes = Vec::new();
    let mut encoder = png::Encoder::new(&mut bytes, width, height);
    encoder.set_color(png::ColorType::Indexed);
    encoder.set_depth(png::BitDepth::Eight);
    encoder.set_palette(palette);
    encoder.set_compression(png::Compression::High);
    // Neighbouring numbers of a palette are not neighbouring colours.
    encoder.set_filter(png::Filter::NoFilter);
    encoder.write_header()?.write_image_data(&pixels)?;
    Ok(bytes)
}

/// The palette, three bytes a colour, and a number in it for each pixel.
fn indexed(rgb: &[u8]) -> (Vec<u8>, Vec<u8>) {
    let mut counts: BTreeMap<Pixel, usize> = BTreeMap::new();
    for pixel in pixels(rgb) {
        *counts.entry(pixel).or_default() += 1;
    }
    let mut common: Vec<(Pixel, usize)> = counts.iter().map(|(p, n)| (*p, *n)).collect();
    common.sort_by(|a, b| b.1.cmp(&a.1).then(a.0.cmp(&b.0)));
    let palette: Vec<Pixel> = common.iter().take(MOST).map(|(pixel, _)| *pixel).collect();
    let numbers: BTreeMap<Pixel, u8> =
        counts.keys().map(|pixel| (*pixel, nearest(&palette, *pixel))).collect();
    let numbered = pixels(rgb).map(|pixel| numbers.get(&pixel).copied().unwrap_or(0)).collect();
    (palette.concat(), numbered)
}

fn pixels(rgb: &[u8]) -> impl Iterator<Item = Pixel> + '_ {
    rgb.chunks_exact(3).map(|p| [p[0], p[1], p[2]])
}

fn nearest(palette: &[Pixel], pixel: Pixel) -> u8 {
    let apart = |a: &Pixel| -> i32 {
        a.iter().zip(pixel).map(|(a, b)| (i32::from(*a) - i32::from(b)).pow(2)).sum()
    };
    let place = palette.iter().enumerate().min_by_key(|(n, colour)| (apart(colour), *n));
    place.map_or(0, |(n, _)| n as u8)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn few_colours_are_kept_as_they_are() {
        let rgb: Vec<u8> = [[1, 2, 3], [9, 9, 9], [1, 2, 3], [250, 0, 0]].concat();
        let (palette, pixels) = indexed(&rgb);
        let back: Vec<u8> =
            pixels.iter().flat_map(|n| palette[usize::from(*n) * 3..][..3].to_vec()).collect();
        assert_eq!(back, rgb);
        assert_eq!(palette[..3], [1, 2, 3], "the commonest comes first");
    }

    #[test]
    fn a_rare_colour_takes_the_nearest_common_one() {
        // 256 greys, twice each, and one pixel of a colour of its own.
        let mut rgb: Vec<u8> = (0..=255u8).flat_map(|v| [v; 6]).collect();
        rgb.extend([100, 100, 103]);
        let (palette, pixels) = indexed(&rgb);
        assert_eq!(palette.len(), MOST * 3);
        let last = usize::from(pixels[pixels.len() - 1]);
        assert_eq!(palette[last * 3..][..3], [101, 101, 101]);
    }
}
