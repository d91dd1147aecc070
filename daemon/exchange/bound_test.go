package exchange

import (
	"bytes"
	"compress/gzip"
	"errors"
	"io"
	"strings"
	"testing"

	"lathwatch/sensors"
	"lathwatch/sensors/units"
)

func TestATextBeyondItsBoundIsAnErrorAndNoEnd(t *testing.T) {
	for n, ok := range map[int]bool{0: true, 9: true, 10: true, 11: false, 100_000: false} {
		got, err := io.ReadAll(&bounded{strings.NewReader(strings.Repeat("a", n)), 10})
		if (err == nil) != ok || len(got) != min(n, 10) {
			t.Errorf("%d bytes of at most 10: %d, %v", n, len(got), err)
		}
	}
}

// TestAPackedFileThatGrowsOutOfAllMeasureIsRefused: noughts pack a thousandfold (DEFLATE, RFC 1951).
func TestAPackedFileThatGrowsOutOfAllMeasureIsRefused(t *testing.T) {
	var member bytes.Buffer
	z := gzip.NewWriter(&member)
	_, err := z.Write(make([]byte, 1<<20))
	if err = errors.Join(err, z.Close()); err != nil {
		t.Fatal(err)
	}
	packed := bytes.Repeat(member.Bytes(), maxPlain>>20+1) // members one behind the other are one file (RFC 1952 section 2.2)
	if len(packed) > 1<<20 {
		t.Fatalf("the packed file has %d bytes", len(packed))
	}
	plain, err := Plain(bytes.NewReader(packed))
	if err != nil {
		t.Fatal(err)
	}
	if n, err := io.Copy(io.Discard, plain); err == nil || n > maxPlain {
		t.Errorf("%d bytes were read, %v", n, err)
	}
}

func TestOnlySoundReadingsComeInByTheSocket(t *testing.T) {
	good := sensors.LateReading{At: t0, Reading: sensors.Reading{Probe: "a", Raw: 4, Step: sixteenth}}
	if err := Sound(good); err != nil {
		t.Error(err)
	}
	for name, change := range map[string]func(*sensors.LateReading){
		"no denominator": func(r *sensors.LateReading) { r.Step.Den = 0 }, "a negative one": func(r *sensors.LateReading) { r.Step.Den = -2 }, "no numerator": func(r *sensors.LateReading) { r.Step.Num = 0 },
		"no unit": func(r *sensors.LateReading) { r.Step.Unit = units.None }, "an unknown one": func(r *sensors.LateReading) { r.Step.Unit = 200 }, "an overflow": func(r *sensors.LateReading) { r.Raw = 1 << 62 },
		"a path for an id": func(r *sensors.LateReading) { r.Probe = "../x" }, "a wrong clock": func(r *sensors.LateReading) { r.At = t0.AddDate(500, 0, 0) }} {
		bad := good
		change(&bad)
		if Sound(bad) == nil {
			t.Errorf("%s was let in: %+v", name, bad)
		}
	}
}
