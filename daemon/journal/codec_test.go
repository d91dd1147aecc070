package journal

import (
	"encoding/binary"
	"hash/crc32"
	"math"
	"math/bits"
	"testing"

	"pgregory.net/rapid"

	"lathwatch/sensors"
	"lathwatch/sensors/units"
)

// anyColumn draws a series' day with quiet, noisy, jumping and wild stretches, gaps, jitter and suspect runs.
func anyColumn(t *rapid.T, day int64) *column {
	c := &column{probe: sensors.ProbeID(rapid.StringMatching(`[a-z0-9-]{1,12}`).Draw(t, "probe")), step: sixteenth}
	n := rapid.IntRange(1, 500).Draw(t, "n")
	at := day*dayMS + rapid.Int64Range(0, 60_000).Draw(t, "first")
	gap := rapid.OneOf(rapid.Just(int64(60_000)), rapid.Int64Range(1, 90_000))
	move := rapid.OneOf(rapid.Int64Range(-2, 2), rapid.Int64Range(-60, 60), rapid.Int64())
	v := rapid.Int64().Draw(t, "value")
	if rapid.Bool().Draw(t, "small") {
		v %= 1000
	}
	suspect := rapid.Bool().Draw(t, "some suspect")
	for range n {
		c.add(at, v, suspect && rapid.IntRange(0, 9).Draw(t, "s") == 0)
		if at += gap.Draw(t, "gap"); at >= (day+1)*dayMS {
			break
		}
		v += move.Draw(t, "move")
	}
	return c
}

func TestABlockGivesBackEveryColumn(t *testing.T) {
	var e encoder
	rapid.Check(t, func(t *rapid.T) {
		day := rapid.Int64Range(0, 40_000).Draw(t, "day")
		c := anyColumn(t, day)
		got, back, err := columnOf(e.column(day, c))
		if err != nil {
			t.Fatal(err)
		}
		if got != day || back.probe != c.probe || back.step != c.step {
			t.Fatalf("%d %v %v", got, back.probe, back.step)
		}
		equal(t, c, back)
	})
}

func equal(t *rapid.T, want, got *column) {
	if len(want.at) != len(got.at) {
		t.Fatalf("%d readings, want %d", len(got.at), len(want.at))
	}
	for i := range want.at {
		ws, gs := want.suspect != nil && want.suspect[i], got.suspect != nil && got.suspect[i]
		if want.at[i] != got.at[i] || want.raw[i] != got.raw[i] || ws != gs {
			t.Fatalf("reading %d: %d %d %v, want %d %d %v", i, got.at[i], got.raw[i], gs, want.at[i], want.raw[i], ws)
		}
	}
}

func TestTheSmallestAndLargestNumbersComeBack(t *testing.T) {
	var e encoder
	c := &column{probe: "x", step: units.Step{Unit: units.Voltage, Num: -7, Den: math.MaxInt32}}
	for i, v := range []int64{math.MinInt64, math.MaxInt64, 0, -1, math.MinInt64, 1, math.MaxInt64, math.MinInt64 + 1, 0, 0, 0} {
		c.add(int64(i), v, false)
	}
	_, back, err := columnOf(e.column(0, c))
	if err != nil {
		t.Fatal(err)
	}
	same(t, "values", back.raw, c.raw)
}

func TestADamagedBlockIsNeverTakenForASoundOne(t *testing.T) {
	var e encoder
	rapid.Check(t, func(t *rapid.T) {
		b := e.column(20000, anyColumn(t, 20000))
		switch rapid.IntRange(0, 2).Draw(t, "damage") {
		case 0:
			b[rapid.IntRange(0, len(b)-1).Draw(t, "byte")] ^= 1 << rapid.IntRange(0, 7).Draw(t, "bit")
		case 1:
			b = b[:rapid.IntRange(0, len(b)-1).Draw(t, "cut")]
		case 2:
			for i := range b[len(b)/2:] {
				b[len(b)/2+i] = 0
			}
		}
		if _, _, err := columnOf(b); err == nil {
			t.Fatal("damage was not noticed")
		}
	})
}

// Whatever the bytes, decoding ends with an answer or an error: a block with a good checksum need not be one of ours.
func FuzzDecoding(f *testing.F) {
	var e encoder
	for _, fig := range figures(4) {
		c := &column{probe: fig.id, step: counts}
		for m := range 300 {
			if raw, ok := fig.at(m); ok {
				c.add(int64(m)*60000, raw, m%50 == 0)
			}
		}
		f.Add(e.column(0, c))
	}
	f.Add(e.bare(3, &bare{empty: []int64{3 * dayMS}, runs: []faultRun{{sensors.Fault{Probe: "a", Kind: sensors.Silent, Why: "w"}, []int64{3*dayMS + 5}}}}))
	f.Fuzz(func(t *testing.T, b []byte) {
		if len(b) > 4 {
			b = b[:len(b)-4]
		}
		b = binary.LittleEndian.AppendUint32(b, crc32.Checksum(b, castagnoli))
		_, _, _ = columnOf(b)
		_, _, _ = bareOf(b)
		_, _ = unpack(0, b)
	})
}

func TestARowOfTheTailComesBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := packed{t: rapid.Int64Range(0, 1<<45).Draw(t, "t")}
		for range rapid.IntRange(0, 30).Draw(t, "readings") {
			p.reads = append(p.reads, packedReading{rapid.Int64Range(1, 1<<20-1).Draw(t, "series"), rapid.Int64().Draw(t, "raw"), rapid.Bool().Draw(t, "suspect")})
		}
		for range rapid.IntRange(0, 5).Draw(t, "faults") {
			p.faults = append(p.faults, sensors.Fault{Probe: "a-b", Kind: sensors.Stuck, Why: rapid.String().Draw(t, "why")})
		}
		b := p.append(nil)
		back, err := unpack(p.t, b)
		if err != nil || len(back.reads) != len(p.reads) || len(back.faults) != len(p.faults) {
			t.Fatal(back, err)
		}
		for i := range p.reads {
			if back.reads[i] != p.reads[i] {
				t.Fatal(back.reads[i], p.reads[i])
			}
		}
		if _, err := unpack(p.t+1, b); err == nil {
			t.Fatal("a row under another time was taken for sound")
		}
		b[rapid.IntRange(0, len(b)-1).Draw(t, "byte")] ^= 1 << rapid.IntRange(0, 7).Draw(t, "bit")
		if _, err := unpack(p.t, b); err == nil {
			t.Fatal("damage was not noticed")
		}
	})
}

func TestTheBitsOfARiceCodeAreAsManyAsWereReckoned(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		u, k := rapid.Uint64().Draw(t, "u")>>rapid.UintRange(0, 63).Draw(t, "shift"), rapid.UintRange(0, 30).Draw(t, "k")
		var w bitWriter
		w.rice(u, k)
		if got := uint(len(w.b))*8 + w.n; got != riceBits(u, k) {
			t.Fatalf("%d bits, reckoned %d (%d bits long, k %d)", got, riceBits(u, k), bits.Len64(u), k)
		}
	})
}
