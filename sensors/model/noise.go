package model

import "math"

// noise gives the n-th number of a stream without walking there, so that weather does not depend on who asks when.
type noise uint64

// Streams of noise.
const (
	synoptic = iota
	cloudiness
	breeze
	hourly
	showers
	character // of plants, probes and years
	sensing   // added to a probe's number
)

func (n noise) bits(stream, i int64) uint64 {
	x := uint64(n) ^ uint64(stream)*0x9e3779b97f4a7c15 ^ uint64(i)*0xd1b54a32d192ed03
	x = (x ^ x>>30) * 0xbf58476d1ce4e5b9
	x = (x ^ x>>27) * 0x94d049bb133111eb
	return x ^ x>>31
}

// even is uniform in 0..1.
func (n noise) even(stream, i int64) float64 {
	return (float64(n.bits(stream, i)>>11) + 0.5) / (1 << 53)
}

// gauss has mean 0 and spread 1.
func (n noise) gauss(stream, i int64) float64 {
	r := math.Sqrt(-2 * math.Log(n.even(stream, 2*i)))
	return r * math.Cos(2*math.Pi*n.even(stream, 2*i+1))
}

// red has spread 1 and remembers the share keep of the number before it.
func (n noise) red(stream, i int64, keep float64) float64 {
	sum, weight := 0.0, math.Sqrt(1-keep*keep)
	for k := int64(0); weight > 0.002; k++ {
		sum += weight * n.gauss(stream, i-k)
		weight *= keep
	}
	return sum
}
