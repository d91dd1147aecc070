package indices

import "math"

// ToppWater gives volumetric water (m³/m³) from a medium's relative permittivity (Topp, Davis & Annan 1980, eq. 7; for about 0 to
// 0.55; coarse mixes differ, so a pot is calibrated by its own two marks instead).
func ToppWater(eps float64) float64 { return -0.053 + eps*(0.0292+eps*(-5.5e-4+eps*4.3e-6)) }

// ToppPermittivity is the published inverse polynomial; it is not the exact inverse of ToppWater (Topp et al. 1980).
func ToppPermittivity(theta float64) float64 { return 3.03 + theta*(9.3+theta*(146-theta*76.7)) }

// WaterPermittivity gives the static permittivity of liquid water at t °C, 0 to 100 (Malmberg & Maryott 1956).
func WaterPermittivity(t float64) float64 { return 87.740 + t*(-0.40008+t*(9.398e-4-t*1.410e-6)) }

// SupercooledPermittivity gives it from -5.13 to 25.08 °C (Navy Electronics Laboratory 1967, AD0653061).
func SupercooledPermittivity(t float64) float64 { return 88.083 + t*(-0.4042+t*0.00092) }

const (
	icePermittivity  = 3.2
	iceSwell         = 1.09 // volume of ice from one of water
	latentHeat       = 333.6
	waterHeat        = 4.19 // kJ/(kg K)
	mediumPorosity   = 0.6
	solidPermittivit = 4.0
)

// FrozenPermittivity gives the relative permittivity of a medium (porosity 0.6, solids 4) holding theta m³/m³ of water of which the
// share frozen is ice, by the refractive-index mixing model. It shows why a frozen pot reads dry: ice has 3 where water has 88.
func FrozenPermittivity(theta, frozen float64) float64 {
	liquid, ice := theta*(1-frozen), theta*frozen*iceSwell
	air := mediumPorosity - liquid - ice
	n := (1-mediumPorosity)*math.Sqrt(solidPermittivit) + liquid*math.Sqrt(WaterPermittivity(0)) + ice*math.Sqrt(icePermittivity) + air
	return n * n
}

// DepletionShare is FAO-56's p, the share of the available water a plant draws without stress, adjusted from its value at 5 mm a
// day to the day's use in mm: p + 0.04 (5 - use), within 0.1 to 0.8.
func DepletionShare(p, use float64) float64 { return max(0.1, min(0.8, p+0.04*(5-use))) }

// AvailableWater gives the total and the readily available water in mm of a root zone zr metres deep (FAO-56 eq. 82 and 83); for a
// pot take container capacity for fc.
func AvailableWater(fc, wp, zr, p float64) (taw, raw float64) {
	taw = 1000 * (fc - wp) * zr
	return taw, p * taw
}

// WaterBalance is FAO-56's root-zone depletion by the day, kept beside the pot model as an outside check of its form. All in mm.
type WaterBalance struct{ TAW, P, Depletion float64 }

// Stress is Ks, the share of its demand a plant still gets at the present depletion (FAO-56 eq. 84).
func (b WaterBalance) Stress() float64 {
	return max(0, min(1, (b.TAW-b.Depletion)/((1-b.P)*b.TAW)))
}

// Step moves a day on with water received and the crop's unstressed use, and gives the stress it was under; as in FAO-56 that
// comes from the depletion at the start of the day.
func (b *WaterBalance) Step(received, use float64) (ks float64) {
	ks = b.Stress()
	b.Depletion = max(0, min(b.TAW, b.Depletion-received+ks*use))
	return ks
}

// A Medium is a potting material; all in per cent of volume in a 12 cm column.
type Medium struct {
	Name                                  string
	Water, Porosity, Air, Wilting, Usable float64 // Water is held at most, Usable is Water less Wilting
}

// Media are measured mineral materials (Schabauer et al. 2026, Horticulturae 12(4):501, Table 2).
var Media = []Medium{
	{"pumice 1-3 mm", 32.11, 76.25, 44.15, 10.6, 21.5},
	{"pumice 4-7", 29.86, 74.19, 44.33, 20.33, 9.52},
	{"pumice 7-14", 27.64, 70.34, 42.7, 16.03, 11.62},
	{"perlite 4-7", 24.23, 91.5, 67.27, 12.43, 11.79},
	{"lava 4-7", 17.02, 70.3, 53.28, 6.96, 10.06},
	{"zeolite 4-7", 20.55, 56.51, 35.96, 2.08, 18.47},
	{"expanded clay 4-7", 11.04, 56.41, 45.37, 8.3, 2.74},
	{"fired clay granules 4-7", 38.79, 86.8, 48.01, 7.86, 30.93},
	{"expanded shale 4-7", 12.44, 58.24, 45.8, 9.39, 3.06},
}

// A Band is a usual range, both ends included.
type Band struct{ Lo, Hi float64 }

// Holds says that v lies in the band.
func (b Band) Holds(v float64) bool { return v >= b.Lo && v <= b.Hi }

// Usual ranges of nursery mixes in per cent of volume in a 7.6 cm ring (Bilderback, Warren, Owen & Albano 2005, HortTechnology
// 15:747-751). Coarse mineral mixes have more air and hold less: that is their point.
var (
	UsualPorosity = Band{50, 85}
	UsualAir      = Band{10, 30}
	UsualCapacity = Band{45, 65}
	UsualUsable   = Band{25, 35}
	UsualUnusable = Band{25, 35}
)
