package drivers

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"periph.io/x/conn/v3/i2c"
)

// identities answers identity reads at the addresses that have a chip and records every byte written.
func identities(wrote *[][2]any) *faultBus {
	return &faultBus{tx: func(_ int, addr uint16, w, r []byte) error {
		*wrote = append(*wrote, [2]any{addr, string(w)})
		switch {
		case addr == 0x76 && w != nil && w[0] == 0xD0:
			r[0] = idBME280
		case addr == 0x18 && w[0] == 0x06:
			r[0], r[1] = 0x00, 0x54
		case addr == 0x45 && r != nil && w == nil:
			copy(r, []byte{0xBE, 0xEF, 0x92, 0x66, 0x66, 0x93})
		case addr == 0x45 && len(w) == 1 && w[0] == 0x89:
		case addr == 0x48 && w[0] == 0x01:
			r[0], r[1] = 0x85, 0x83
		case addr == 0x38 && w == nil: // an output expander, not an AHT20
			for i := range r {
				r[i] = 0x08
			}
		default:
			return errGone
		}
		return nil
	}}
}

func TestLookingFindsChipsAndTheirBlocksPass(t *testing.T) {
	root := t.TempDir()
	if err := os.MkdirAll(filepath.Join(root, "dev"), 0o755); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(root, "dev/i2c-1"), nil, 0o644); err != nil {
		t.Fatal(err)
	}
	var wrote [][2]any
	bus := identities(&wrote)
	env := Env{Root: root, I2C: func(int) (i2c.Bus, error) { return bus, nil }}
	var chips []string
	for _, d := range All() {
		if d.Look == nil || !strings.Contains(d.Doc, "I2C") {
			continue
		}
		for _, f := range d.Look(env) {
			chips = append(chips, d.Name+" "+f.Chip+" "+f.Channel)
			for _, p := range probesOf(t, strings.Replace(f.Block, `id = ""`, `id = "x"`, 1)) {
				if w, err := ParseProbe(p); err != nil || w.Chip != f.Chip {
					t.Errorf("the block for %s does not pass: %v\n%s", f.Chip, err, f.Block)
				}
			}
		}
	}
	want := []string{
		"ads1115 i2c-1 0x48 channel 0", "ads1115 i2c-1 0x48 channel 1", "ads1115 i2c-1 0x48 channel 2", "ads1115 i2c-1 0x48 channel 3",
		"bme280 i2c-1 0x76 air-temperature", "bme280 i2c-1 0x76 air-humidity", "bme280 i2c-1 0x76 air-pressure",
		"mcp9808 i2c-1 0x18 air-temperature", "sht4x i2c-1 0x45 air-temperature", "sht4x i2c-1 0x45 air-humidity",
	}
	if diff := cmp.Diff(want, chips); diff != "" {
		t.Errorf("-want +got\n%s", diff)
	}
	for _, w := range wrote {
		if len(w[1].(string)) > 1 && w[1] != "\x37\x81" { // more than a register number is a setting
			t.Errorf("%#x was written % x", w[0], w[1])
		}
		if w[0] == uint16(0x38) && w[1] != "" {
			t.Errorf("something was written to an unknown chip at 0x38")
		}
	}
}

func TestNoBusNothingFound(t *testing.T) {
	for _, d := range All() {
		if d.Look != nil {
			if f := d.Look(Env{Root: t.TempDir()}); len(f) > 0 {
				t.Errorf("%s finds %v in an empty tree", d.Name, f)
			}
		}
	}
}
