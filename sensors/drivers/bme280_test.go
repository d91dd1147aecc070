package drivers

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"lathwatch/sensors/checks"
)

// sheetPa and sheetRH are the floating forms of the BME280 and BMP280 data sheets, written apart from the whole-number forms
// under test; fine is the untruncated fine temperature.
func sheetFine(c bmeCalibration, adc int32) float64 {
	x := (float64(adc)/16384 - float64(c.t1)/1024) * float64(c.t2)
	y := float64(adc)/131072 - float64(c.t1)/8192
	return x + y*y*float64(c.t3)
}

func sheetPa(c bmeCalibration, adc int32, fine float64) float64 {
	p := func(n int) float64 { return float64(c.p[n]) }
	x := fine/2 - 64000
	y := x*x*p(6)/32768 + x*p(5)*2
	y = y/4 + p(4)*65536
	x = (p(3)*x*x/524288 + p(2)*x) / 524288
	x = (1 + x/32768) * float64(c.p1)
	v := (1048576 - float64(adc) - y/4096) * 6250 / x
	return v + (p(9)*v*v/2147483648+v*p(8)/32768+p(7))/16
}

func sheetRH(c bmeCalibration, adc uint16, fine float64) float64 {
	x := fine - 76800
	h := float64(adc) - (float64(c.h4)*64 + float64(c.h5)/16384*x)
	h *= float64(c.h2) / 65536 * (1 + float64(c.h6)/67108864*x*(1+float64(c.h3)/67108864*x))
	h *= 1 - float64(c.h1)*h/524288
	return math.Min(math.Max(h, 0), 100)
}

func exampleCalibration(t testing.TB) (c bmeCalibration, adcT, adcP int32) {
	var temp struct {
		ADC int32   `json:"adc_T"`
		Dig []int64 `json:"dig_T"`
	}
	checks.Input(t, "se-bmp280-T", &temp)
	var pressure struct {
		ADC int32   `json:"adc_P"`
		Dig []int64 `json:"dig_P"`
	}
	checks.Input(t, "se-bmp280-P", &pressure)
	c = bmeCalibration{id: idBMP280, t1: uint16(temp.Dig[0]), t2: int16(temp.Dig[1]), t3: int16(temp.Dig[2]), p1: uint16(pressure.Dig[0])}
	for n := 2; n <= 9; n++ {
		c.p[n] = int16(pressure.Dig[n-1])
	}
	return c, temp.ADC, pressure.ADC
}

func TestTemperatureIsThatOfTheDataSheetExample(t *testing.T) {
	c, adc, _ := exampleCalibration(t)
	fine := c.fine(adc)
	checks.Is(t, "se-bmp280-T", map[string]any{"T_C": float64(c.centi(fine)) / 100, "t_fine_int": fine, "T_int": c.centi(fine)})
}

// The printed figure needs the floating form; the whole-number form that every processor agrees on stays within 0.02 Pa of it.
func TestPressureIsThatOfTheDataSheetExample(t *testing.T) {
	c, adcT, adcP := exampleCalibration(t)
	sheet := sheetPa(c, adcP, sheetFine(c, adcT))
	checks.Is(t, "se-bmp280-P", sheet)
	a := c.pressure(adcP, c.fine(adcT))
	if a.err != nil || math.Abs(degrees(a, 1)-sheet) > 0.02 {
		t.Errorf("the whole-number form gives %.3f Pa (%v), the floating form %.3f", degrees(a, 1), a.err, sheet)
	}
}

func TestWholeNumberFormsFollowTheFloatingOnes(t *testing.T) {
	example, _, _ := exampleCalibration(t)
	rapid.Check(t, func(t *rapid.T) {
		c := example
		c.id = idBME280
		c.h1, c.h3 = uint8(rapid.IntRange(0, 90).Draw(t, "h1")), uint8(rapid.IntRange(0, 20).Draw(t, "h3"))
		c.h2 = int16(rapid.IntRange(330, 400).Draw(t, "h2"))
		c.h4, c.h5 = int16(rapid.IntRange(250, 380).Draw(t, "h4")), int16(rapid.IntRange(-60, 60).Draw(t, "h5"))
		c.h6 = int8(rapid.IntRange(0, 40).Draw(t, "h6"))
		adcT := int32(rapid.IntRange(340_000, 600_000).Draw(t, "temperature")) // about -30 to 50 °C
		adcP := int32(rapid.IntRange(300_000, 520_000).Draw(t, "pressure"))
		hum := uint16(rapid.IntRange(20_000, 45_000).Draw(t, "humidity"))
		if hum == skipped16 {
			hum++
		}
		fine, sheet := c.fine(adcT), sheetFine(c, adcT)
		// The whole-number form drops three bits of the count first: up to 12 of 5120 units a degree.
		if d := float64(fine) - sheet; math.Abs(d) > 16 {
			t.Errorf("fine temperature is %v off", d)
		}
		if a := c.pressure(adcP, fine); a.err == nil && math.Abs(degrees(a, 1)-sheetPa(c, adcP, sheet)) > 0.5 {
			t.Errorf("pressure %.2f Pa, the floating form has %.2f", degrees(a, 1), sheetPa(c, adcP, sheet))
		}
		if got, want := float64(c.humidity(hum, fine))/1024, sheetRH(c, hum, sheet); math.Abs(got-want) > 0.1 {
			t.Errorf("humidity %.3f %%, the floating form has %.3f", got, want)
		}
	})
}

func TestCalibrationWordsKeepTheirSigns(t *testing.T) {
	var low [26]byte
	got := trimming(idBME280, low, [7]byte{0x6a, 0x01, 0x00, 0x13, 0x79, 0xfe, 0xe2})
	if got.h2 != 362 || got.h4 != 313 || got.h5 != -25 || got.h6 != -30 {
		t.Errorf("h2 %d, h4 %d, h5 %d, h6 %d; want 362, 313, -25, -30", got.h2, got.h4, got.h5, got.h6)
	}
	got = trimming(idBME280, low, [7]byte{0, 0, 0, 0xff, 0x0f, 0x00, 0})
	if got.h4 != -1 || got.h5 != 0 {
		t.Errorf("h4 %d, h5 %d; want -1, 0", got.h4, got.h5)
	}
}
