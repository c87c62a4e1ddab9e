//! Frozen files of every released format: they must load for ever.

use wirewitness::catalogue::Catalogue;
use wirewitness::store;

/// Every field and every word of format 1, with kinds from no catalogue.
#[test]
fn the_frozen_file_with_every_field_of_format_1_is_read_and_written_back_byte_for_byte() {
    let text = include_str!("formats/v1/every-field.ron");
    let (machine, remarks) = store::parse_leniently("every-field.ron", text, &Catalogue::default()).unwrap();
    assert_eq!(remarks.len(), 3, "one remark for each kind that the empty catalogue lacks: {remarks:?}");
    assert_eq!(store::text_of(&machine), text);
}
