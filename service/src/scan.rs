//! Looking for special bytes in a text, many at once. Most texts have none, and all that is written is looked at.

/// Whether a text has a special byte. In pieces of sixteen, the last of which may overlap the one before it.
#[inline]
pub(crate) fn has(text: &[u8], special: impl Fn(u8) -> bool + Copy) -> bool {
    match (text.last_chunk(), text.first()) {
        (Some(last), _) => {
            let pieces = text.as_chunks().0;
            pieces.iter().fold(marks(last, special), |found, piece| found | marks(piece, special)) != 0
        }
        (None, Some(first)) => {
            let mut piece = [*first; 16];
            piece[..text.len()].copy_from_slice(text);
            marks(&piece, special) != 0
        }
        (None, None) => false,
    }
}

/// The places of special bytes, in their order.
#[inline]
pub(crate) fn places(text: &[u8], special: impl Fn(u8) -> bool) -> impl Iterator<Item = usize> {
    let (mut rest, mut begin, mut found) = (text, 0, 0);
    std::iter::from_fn(move || {
        while found == 0 {
            if rest.is_empty() {
                return None;
            }
            begin = text.len() - rest.len();
            (found, rest) = match rest.split_first_chunk() {
                Some((piece, rest)) => (marks(piece, &special), rest),
                None => {
                    let mut piece = [0; 16];
                    piece[..rest.len()].copy_from_slice(rest);
                    let inside = (1 << (8 * rest.len())) - 1;
                    (marks(&piece, &special) & inside, &[][..])
                }
            };
        }
        let place = begin + found.trailing_zeros() as usize / 8;
        found &= found - 1;
        Some(place)
    })
}

/// Which bytes are special. Mapped and then read as one number, a piece stays in one register; folded, its bytes are taken one by
/// one.
#[inline]
fn marks(piece: &[u8; 16], special: impl Fn(u8) -> bool) -> u128 {
    u128::from_le_bytes(piece.map(|byte| u8::from(special(byte))))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_place_is_found() {
        for length in 0..40_usize {
            for step in 1..=17 {
                let text: Vec<_> = (0..length).map(|place| if place % step == 0 { 0 } else { b'a' }).collect();
                let wanted: Vec<_> = (0..length).step_by(step).collect();
                assert_eq!(places(&text, |byte| byte == 0).collect::<Vec<_>>(), wanted, "{length} {step}");
            }
        }
    }

    #[test]
    fn a_special_byte_is_found_wherever_it_stands() {
        for length in 0..70 {
            let mut text = vec![b'a'; length];
            assert!(!has(&text, |byte| byte == b'"'), "{length}");
            for place in 0..length {
                text[place] = b'"';
                assert!(has(&text, |byte| byte == b'"'), "{place} of {length}");
                text[place] = b'a';
            }
        }
    }
}
