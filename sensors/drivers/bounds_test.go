package drivers

import (
	"strings"
	"testing"
)

// TestAPayloadOfMoreThan16KiBIsGarbled: at the bound a number is read, a byte beyond nothing is, nor lists deeper than sixteen.
func TestAPayloadOfMoreThan16KiBIsGarbled(t *testing.T) {
	full := strings.Repeat(" ", maxPayload-3) + "4.5"
	if p := readPayload([]byte(full)); p.plain != "4.5" {
		t.Errorf("at the bound: %.20q, %v", p.plain, p.err)
	}
	if p := readPayload([]byte(" " + full)); p.err == nil || p.plain != "" || p.tree != nil {
		t.Errorf("beyond it: %.20q", p.plain)
	}
	for depth, ok := range map[int]bool{maxNesting: true, maxNesting + 2: false, 5000: false} {
		if p := readPayload([]byte(strings.Repeat("[", depth) + strings.Repeat("]", depth))); (p.err == nil) != ok {
			t.Errorf("%d deep: %v", depth, p.err)
		}
	}
}
