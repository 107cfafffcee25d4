#!/bin/sh
# Makes the subsets in this folder from Debian's fonts-dejavu-core 2.37 with fonttools and brotli (pip).
# The .ttf sets type in PNG and measures it; the smaller .woff2 travels inside each SVG.
set -eu
cd "$(dirname "$0")"
signs=U+2013,U+2014,U+2018,U+2019,U+201C,U+201D,U+2026,U+2190-2193,U+2212,U+2248,U+2264,U+2265,U+0394,U+00D7,U+2022,U+20AC,U+202F,U+FFFD
for face in DejaVuSans DejaVuSans-Bold; do
    subset() {
        pyftsubset "/usr/share/fonts/truetype/dejavu/$face.ttf" --unicodes="$1,$signs" --layout-features='' \
            --no-hinting --notdef-outline --recommended-glyphs --name-IDs='*' --legacy-kern \
            --drop-tables+=GPOS,GSUB,GDEF,MATH --no-recalc-timestamp --output-file="$2" $3
    }
    subset U+0020-007E,U+00A0-017F "$face.ttf" ""
    subset U+0020-007E,U+00A0-00FF "$face.woff2" --flavor=woff2
done
