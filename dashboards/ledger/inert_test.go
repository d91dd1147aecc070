package ledger

import "testing"

func TestASpreadsheetDoesNotWorkOutWhatAKeeperWrote(t *testing.T) {
	for s, want := range map[string]string{"=HYPERLINK(\"http://evil.example\")": "'=HYPERLINK(\"http://evil.example\")", "+1": "'+1", "-1": "'-1", "@SUM(A1)": "'@SUM(A1)", "slugs = many": "slugs = many", "": "", "'tis gone": "'tis gone"} {
		if got := inert(s); got != want || plainText(got) != s {
			t.Errorf("%q is written as %q and read as %q", s, got, plainText(got))
		}
	}
}
