package journal

import "testing"

// TestARecordWithABrokenHeaderIsNoRow: the header's length counts itself ("Database File Format" section 2.1), so nought, or more than there is,
// is damage; a start that heals a broken file must not fall over it.
func TestARecordWithABrokenHeaderIsNoRow(t *testing.T) {
	for name, b := range map[string][]byte{"empty": {}, "no length": {0}, "length nought": {0, 1, 7}, "longer than the record": {9, 1, 7}, "a varint without end": {0x81}, "an integer cut short": {2, 6, 1}, "a text cut short": {2, 0x21, 'a'},
		"a length written in two bytes and less than those": {0x80, 1, 7}} {
		if cols, ok := columnsOf(b); ok {
			t.Errorf("%s: %v", name, cols)
		}
	}
	if cols, ok := columnsOf([]byte{3, 1, 0x0f, 7, 'x'}); !ok || len(cols) != 2 || cols[0] != int64(7) || cols[1] != "x" {
		t.Errorf("a sound one: %v, %v", cols, ok)
	}
}
