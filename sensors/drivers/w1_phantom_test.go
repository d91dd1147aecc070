package drivers

import (
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"lathwatch/sensors"
)

// Phantoms are told of at most once an hour, and taken back with the first round without them.
func TestPhantomsAreTakenBackWithTheFirstRoundWithoutThem(t *testing.T) {
	root := t.TempDir()
	for _, dir := range []string{"28-0000000000ab", "00-200000000000"} {
		if err := os.MkdirAll(filepath.Join(root, "sys/bus/w1/devices", dir), 0o755); err != nil {
			t.Fatal(err)
		}
	}
	if err := os.WriteFile(filepath.Join(root, "sys/bus/w1/devices/28-0000000000ab/temperature"), []byte("4000\n"), 0o644); err != nil {
		t.Fatal(err)
	}
	var heard []string
	env := Env{Root: root, Notice: func(bus, text string) { heard = append(heard, "said") }, Mended: func(bus, text string) {
		if bus != w1Bus || text != phantoms {
			t.Errorf("%s: %s", bus, text)
		}
		heard = append(heard, "taken back")
	}, Every: 5 * time.Minute}
	s, err := openW1(env, []Wish{{Probe: sensors.ProbeID("D7-t"), Of: w1Table{ID: "28-0000000000ab"}}})
	if err != nil {
		t.Fatal(err)
	}
	s.Poll(t.Context())
	s.Poll(t.Context())
	if err := os.Remove(filepath.Join(root, "sys/bus/w1/devices/00-200000000000")); err != nil {
		t.Fatal(err)
	}
	s.Poll(t.Context())
	s.Poll(t.Context())
	if diff := cmp.Diff([]string{"said", "taken back"}, heard); diff != "" {
		t.Error(diff)
	}
}
