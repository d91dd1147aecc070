package indices

import (
	"math/rand/v2"
	"testing"
	"time"

	"lathwatch/sensors/garden"
	"lathwatch/sensors/units"
)

// A day of five-minute air, so that a benchmark's ns/op is the price of one reading.
func benchAir() (t, rh [288]float64) {
	rnd := rand.New(rand.NewPCG(1, 1))
	for i := range t {
		t[i], rh[i] = 10+12*rnd.NormFloat64(), 30+70*rnd.Float64()
	}
	return t, rh
}

var sink float64

func BenchmarkAirVPD(b *testing.B) {
	t, rh := benchAir()
	for i := 0; b.Loop(); i++ {
		sink = VPD(t[i%len(t)], rh[i%len(t)])
	}
}

func BenchmarkAirDewPoint(b *testing.B) {
	t, rh := benchAir()
	for i := 0; b.Loop(); i++ {
		sink, _ = DewPoint(t[i%len(t)], rh[i%len(t)])
	}
}

func BenchmarkAirFrostPoint(b *testing.B) {
	t, rh := benchAir()
	for i := 0; b.Loop(); i++ {
		sink, _ = FrostPoint(t[i%len(t)], rh[i%len(t)])
	}
}

// The reference saturation equation beside the shipped one, in one run.
func BenchmarkAirSaturation(b *testing.B) {
	t, _ := benchAir()
	for _, f := range []struct {
		name string
		of   func(float64) float64
	}{{"WMO-No8", SaturationWater}, {"FAO-56", SaturationFAO}, {"IAPWS", hPa(iapwsWater)}} {
		b.Run(f.name, func(b *testing.B) {
			for i := 0; b.Loop(); i++ {
				sink = f.of(t[i%len(t)])
			}
		})
	}
}

func BenchmarkDegreeDaysOfADay(b *testing.B) {
	t, _ := benchAir()
	for m := Average; m <= FourCase; m++ {
		d := DegreeDays{Method: m, Base: 5}
		b.Run(m.String(), func(b *testing.B) {
			for i := 0; b.Loop(); i++ {
				low := t[i%len(t)]
				sink = d.Day(DayRange{low, low + 9, low + 1})
			}
		})
	}
	b.Run("peer: wave in 288 points", func(b *testing.B) {
		for i := 0; b.Loop(); i++ {
			low := t[i%len(t)]
			sink = integralOfWave(DegreeDays{Method: Sine, Base: 5}, low, low+9, 288)
		}
	})
}

func BenchmarkDynamicModelHour(b *testing.B) {
	rnd := rand.New(rand.NewPCG(1, 1))
	var hours [4096]int // sixteenths of a degree
	for i := range hours {
		hours[i] = rnd.IntN(20*16) - 5*16
	}
	b.Run("exponentials", func(b *testing.B) {
		var m DynamicModel
		for i := 0; b.Loop(); i++ {
			m.Hour(float64(hours[i%len(hours)]) / 16)
		}
		sink = m.Portions()
	})
	b.Run("table", func(b *testing.B) {
		var m DynamicModel
		m.HourSixteenths(0) // the table is filled before the clock starts
		for i := 0; b.Loop(); i++ {
			m.HourSixteenths(hours[i%len(hours)])
		}
		sink = m.Portions()
	})
}

func BenchmarkChillHour(b *testing.B) {
	var c Chill
	for i := 0; b.Loop(); i++ {
		c.Hour(units.MilliCelsius(i % 16000))
	}
	sink = c.Utah()
}

func BenchmarkGrowingDegreeHour(b *testing.B) {
	t, _ := benchAir()
	for i := 0; b.Loop(); i++ {
		sink = GDH(t[i%len(t)])
	}
}

func BenchmarkSunDay(b *testing.B) {
	s := Sun{Latitude: 52, Longitude: -3, Zone: time.UTC}
	for i := 0; b.Loop(); i++ {
		rise, _, _ := s.Day(garden.Date(20000 + i%365))
		sink = float64(rise.Unix())
	}
}

func BenchmarkHargreavesSamaniDay(b *testing.B) {
	for i := 0; b.Loop(); i++ {
		sink = HargreavesSamani(12, 17, 7, SunDay{52, 1 + i%365}.Extraterrestrial())
	}
}

func BenchmarkFitForcing46Seasons(b *testing.B) {
	seasons := cherrySeasons(b)
	for b.Loop() {
		f, err := FitForcing(seasons, DegreesAbove(4), 31)
		if err != nil {
			b.Fatal(err)
		}
		sink = f.Need
	}
}

func BenchmarkWindow(b *testing.B) {
	q := BreakQuestion{Today: civil(2026, time.February, 1), SoFar: [2]float64{8, 11}, Need: ForcingNeed{Mean: 175, Within: 20}, Base: 5, Climate: maritime, Swing: 4}
	for b.Loop() {
		early, _, _ := Window(q)
		sink = float64(early)
	}
}
