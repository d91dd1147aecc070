package indices

import (
	"math"
	"time"
)

// PotKind is what sets a pot's first guess of drying. The zero value is a 3 L plastic pot at rest.
type PotKind struct {
	Clay   bool
	Growth bool
	Litres float64 // 0 means 3
}

// Drying rates per day at usual dryness of air for the season, from growers' intervals for a 3 L pot: at rest 4 to 7 weeks from
// 50 to 20 % in plastic, 1 to 2 weeks in clay; in growth 1 to 5 days from 100 to 55 % by mix. Guesses until learned.
const (
	dryRestPlastic = 0.024
	dryRestClay    = 0.087
	dryGrowPlastic = 0.25
	dryGrowClay    = 0.40
	dryRelSD       = 0.6 // of the first guess, as a ratio
	dryVPDRest     = 0.2 // kPa: the usual air the guesses are for
	dryVPDGrow     = 0.6
	dryBlock       = 3 * time.Hour
	dryNoise       = 18.0 // ‰ of one block's mean, with the daily wave in it
	dryWander      = 0.04 // the rate's relative drift per square root of a day
	dryHour        = 0.2  // days: a day's drying comes in its afternoon
	dryMemory      = 25.0 // days over which the air's own mean is kept
	dryWeather     = 3.0  // days after which today's weather says little about the next
	dryWind        = 1.5  // day-to-day part of drying the deficit does not see (wind), in squared steps
	dryFloor       = 1e-4 // per day
	dryJump        = 80   // ‰ up between blocks: water came without anybody telling
)

// DryDown learns how fast one pot dries and how long its water lasts: first order in the water left, w = w0·exp(-k·∫D dt), where
// the drive D is the air's vapour pressure deficit relative to the season's usual when known, else 1. An extended Kalman filter
// holds the logarithm of the water left and of k; its input are means of three hours, so that the sampling rate does not matter.
// Set it up with NewDryDown.
type DryDown struct {
	kind     PotKind
	s, l     float64 // ln of water left (‰), ln of k per day
	pss, psl float64
	pll      float64
	started  bool

	block        int64
	sum, n       int64
	vpd, vpdN    int64
	last         int64   // the block of the newest update
	drive        float64 // the mean drive of the last dryMemory days
	driveNow     float64 // and of the last dryWeather
	driveDays    float64
	driveVar     float64 // day-to-day variance of it
	dayDrive     float64
	dayBlocks    int
	known        bool
	observedDays float64
	newest       int64
}

// NewDryDown starts from the guess for a kind of pot.
func NewDryDown(kind PotKind) *DryDown {
	if kind.Litres <= 0 {
		kind.Litres = 3
	}
	d := &DryDown{kind: kind, l: math.Log(dryGuess(kind)), pll: dryRelSD * dryRelSD, drive: 1, driveNow: 1, driveVar: 0.25}
	return d
}

// Remember starts the filter from what an earlier season taught: Rate's figures. The spread is widened by a winter's drift.
func (d *DryDown) Remember(perDay, relSpread float64) {
	if perDay <= 0 {
		return
	}
	d.l, d.psl = math.Log(max(perDay, dryFloor)), 0
	d.pll = min(dryRelSD*dryRelSD, relSpread*relSpread+0.04)
	d.observedDays = 2
}

func dryGuess(k PotKind) float64 {
	rate := [2][2]float64{{dryRestPlastic, dryRestClay}, {dryGrowPlastic, dryGrowClay}}
	i, j := 0, 0
	if k.Growth {
		i = 1
	}
	if k.Clay {
		j = 1
	}
	// A pot's surface grows more slowly than what it holds.
	return rate[i][j] * math.Cbrt(3/k.Litres)
}

func (d *DryDown) usualVPD() float64 {
	if d.kind.Growth {
		return dryVPDGrow
	}
	return dryVPDRest
}

// Season tells that the plant went to rest or came into growth. Half of what was learned about this pot (as a ratio to the guess)
// is taken over, and the spread widens.
func (d *DryDown) Season(growth bool) {
	if growth == d.kind.Growth {
		return
	}
	ratio := d.l - math.Log(dryGuess(d.kind))
	d.kind.Growth = growth
	d.l = math.Log(dryGuess(d.kind)) + ratio/2
	d.pll, d.psl = max(d.pll, 0.7*dryRelSD*dryRelSD), 0
	d.drive, d.driveNow, d.driveVar, d.known, d.driveDays = 1, 1, 0.25, false, 0
}

// Take feeds a reading in ‰ of drained-full when it may be judged (not frozen, not doubted), and the air's vapour pressure
// deficit in Pa when known. Rounds without a usable reading still carry the air.
func (d *DryDown) Take(now time.Time, wet int64, usable bool, vpdPa int64, vpdOK bool) {
	b := now.Unix() / int64(dryBlock/time.Second)
	if b != d.block {
		d.closeBlock()
		d.block = b
	}
	if usable && wet > 0 {
		d.sum, d.n, d.newest = d.sum+wet, d.n+1, wet
	}
	if vpdOK {
		d.vpd, d.vpdN = d.vpd+vpdPa, d.vpdN+1
	}
}

func (d *DryDown) closeBlock() {
	drive := d.drive
	if d.vpdN > 0 {
		drive = float64(d.vpd) / float64(d.vpdN) / 1000 / d.usualVPD()
		d.noteDrive(drive)
	}
	if d.n > 0 {
		d.update(float64(d.sum)/float64(d.n), drive)
	}
	d.sum, d.n, d.vpd, d.vpdN = 0, 0, 0, 0
}

// noteDrive keeps the mean and the day-to-day variance of the air's drive.
func (d *DryDown) noteDrive(drive float64) {
	d.dayDrive, d.dayBlocks = d.dayDrive+drive, d.dayBlocks+1
	if d.dayBlocks < 8 {
		return
	}
	day := d.dayDrive / float64(d.dayBlocks)
	d.dayDrive, d.dayBlocks = 0, 0
	d.known = true
	d.driveDays = min(d.driveDays+1, dryMemory)
	dev := day - d.drive
	if d.driveDays > 1 {
		d.driveVar += (dev*dev - d.driveVar) / max(d.driveDays, 5)
	}
	d.drive += dev / d.driveDays
	d.driveNow += (day - d.driveNow) / min(d.driveDays, dryWeather)
}

// update moves the filter one observation on: predict over the blocks since the last, then correct.
func (d *DryDown) update(wet, drive float64) {
	y := math.Log(max(wet, 1))
	r := dryNoise / max(wet, 1)
	r *= r
	gap := d.block - d.last
	d.last = d.block
	days := float64(gap) * dryBlock.Hours() / 24
	if !d.started || days > 3 {
		d.begin(y, r)
		return
	}
	k := math.Exp(d.l)
	x := max(drive, 0) * days
	step := k * x
	d.s -= step
	d.pss += -2*step*d.psl + float64(step*step)*d.pll + dryWind*step*step
	d.psl -= step * d.pll
	d.pll += dryWander * dryWander * days
	if wet-math.Exp(d.s) > dryJump {
		d.started = false // begin with the next block, when this one's rise is over
		return
	}
	d.observedDays += days
	e := y - d.s
	v := d.pss + r
	ks, kl := d.pss/v, d.psl/v
	d.s += ks * e
	d.l = max(math.Log(dryFloor), d.l+kl*e)
	d.pll = max(1e-6, d.pll-kl*d.psl)
	d.pss, d.psl = d.pss-ks*d.pss, d.psl-ks*d.psl
}

func (d *DryDown) begin(y, r float64) {
	d.s, d.pss, d.psl, d.started = y, r, 0, true
}

// Watered tells that water came or the pot was handled: the level starts anew, the rate is kept.
func (d *DryDown) Watered() { d.started, d.sum, d.n = false, 0, 0 }

// Rate gives k per day of usual air with its relative spread; own is false while it is the guess for the kind of pot.
func (d *DryDown) Rate() (perDay, relSpread float64, own bool) {
	return math.Exp(d.l), math.Sqrt(d.pll), d.observedDays >= 2
}
