package drivers

import (
	"errors"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"github.com/google/go-cmp/cmp"

	"lathwatch/sensors"
	"lathwatch/sensors/checks"
)

func TestPromisesAreReadAsTheSpecificationHasThem(t *testing.T) {
	var in map[string]string
	checks.Input(t, "se-sdi12-resp", &in)
	got := map[string]any{}
	for _, c := range []struct{ asked, command string }{{"aM!", "M"}, {"aC!", "C"}} {
		address := in[c.asked][:1]
		rest, err := sdiReply(in[c.asked]+"\r\n", address)
		if err != nil {
			t.Fatal(err)
		}
		wait, n, err := sdiPromise(rest, c.command)
		if err != nil {
			t.Fatal(err)
		}
		got[c.asked] = map[string]any{"addr": address, "wait_s": int(wait.Seconds()), "n": n}
	}
	checks.Is(t, "se-sdi12-resp", got)
}

func TestValuesNeedTheirSignAndAtMostSevenDigits(t *testing.T) {
	for _, c := range []struct {
		rest string
		want []int64
		why  string
	}{
		{rest: "+3.14", want: []int64{31400}},
		{rest: "+23.4-1.5+0.31", want: []int64{234000, -15000, 3100}},
		{rest: "+1234567", want: []int64{12345670000}},
		{rest: "-.5", want: []int64{-5000}},
		{rest: "+0", want: []int64{0}},
		{rest: "+0.00005", want: []int64{1}},
		{rest: "3.14", why: "without its sign"},
		{rest: "+", why: "no value"},
		{rest: "+.", why: "no value"},
		{rest: "+1.2.3", why: "no value"},
		{rest: "+12345678", why: "no value"},
		{rest: "+1,5", why: "no value"},
		{rest: "+1e5", why: "no value"},
		{rest: "+1+", why: "no value"},
		{rest: ""},
	} {
		got, err := sdiValues(c.rest, "0", false)
		if c.why != "" {
			if tr := (*trouble)(nil); !errors.As(err, &tr) || tr.kind != sensors.Garbled || !strings.Contains(tr.why, c.why) {
				t.Errorf("%q: want a garbled value, got %v and %v", c.rest, got, err)
			}
			continue
		}
		if diff := cmp.Diff(c.want, got); diff != "" || err != nil {
			t.Errorf("%q: %v\n%s", c.rest, err, diff)
		}
	}
}

func TestChecksumOfValuesCoversTheAddress(t *testing.T) {
	if got, err := sdiValues("+3.14OqZ", "0", true); err != nil || got[0] != 31400 { // specification 1.4, section 4.4.12
		t.Errorf("the published example: %v, %v", got, err)
	}
	for _, bad := range []string{"+3.15OqZ", "+3.14OqY", "qZ", "", "+3.14"} {
		if got, err := sdiValues(bad, "0", true); err == nil {
			t.Errorf("%q was taken for %v", bad, got)
		}
	}
	if _, err := sdiValues("+3.14OqZ", "1", true); err == nil {
		t.Error("the same characters from another sensor pass")
	}
}

// A call for service that comes in one piece with the promise ends the wait; without it the promised time is waited out.
func TestCallForServiceEndsTheWait(t *testing.T) {
	for _, c := range []struct {
		promise     string
		least, most time.Duration
	}{{"00051\r\n0\r\n", 0, time.Second}, {"00051\r\n", 5 * time.Second, 7 * time.Second}} {
		synctest.Test(t, func(t *testing.T) {
			l := &slaveLine{answer: func(command []byte) ([]byte, time.Duration) {
				switch string(command) {
				case "0I!":
					return []byte("014INVENTEDTDR001\r\n"), 0
				case "0M!":
					return []byte(c.promise), 0
				}
				return []byte("0-0.25\r\n"), 0
			}}
			s := opened(t, serialEnv(l), "[[probe]]\nid = \"x\"\nmeasures = \"pot-temperature\"\n[probe.sdi12]\nline = \"/dev/sdi\"\naddress = \"0\"\ncount = \"1 °C\"\n")
			start := time.Now()
			if got := saysOf(t, s); got != "x -0.25 °C" {
				t.Errorf("%q: %s", c.promise, got)
			}
			if took := time.Since(start); took < c.least || took > c.most {
				t.Errorf("%q took %s", c.promise, took)
			}
		})
	}
}

func FuzzSDI12Reply(f *testing.F) {
	for _, s := range []string{"0+3.14OqZ\r\n", "00122\r\n", "001310\r\n", "0\r\n", "0+1-2+3.5\r\n", "013VENDORX\r\n", "\x00\x80", "0+\r\n"} {
		f.Add(s, true)
		f.Add(s, false)
	}
	f.Fuzz(func(t *testing.T, raw string, crc bool) {
		rest, err := sdiReply(raw, "0")
		if err != nil {
			return
		}
		values, err := sdiValues(rest, "0", crc)
		if err == nil && rest != "" {
			if signs := strings.Count(rest, "+") + strings.Count(rest, "-"); !crc && signs != len(values) {
				t.Errorf("%q: %d signs, %d values", raw, signs, len(values))
			}
			for _, v := range values {
				if v > 9_999_999*10_000 || v < -9_999_999*10_000 {
					t.Errorf("%q gives %d", raw, v)
				}
			}
		}
		for _, c := range []string{"M", "C"} {
			wait, n, err := sdiPromise(rest, c)
			if err == nil && (wait < 0 || wait.Seconds() > 999 || n < 0 || n > 99) {
				t.Errorf("%q promises %d values in %s", raw, n, wait)
			}
		}
	})
}
