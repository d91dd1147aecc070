package alerts

// An hourAnswers is how often a probe answered and failed in one hour.
type hourAnswers struct {
	hour        int64
	got, failed int
}

// lastAnswers are a probe's last 25 hours, the present one among them.
type lastAnswers [25]hourAnswers

func (a *lastAnswers) count(hour int64, got, failed int) {
	h := &a[hour%int64(len(a))]
	if h.hour != hour {
		*h = hourAnswers{hour: hour}
	}
	h.got, h.failed = h.got+got, h.failed+failed
}

// day sums the hours up to now.
func (a *lastAnswers) day(hour int64) (got, failed int) {
	for _, h := range a {
		if h.hour > hour-int64(len(a)) && h.hour <= hour {
			got, failed = got+h.got, failed+h.failed
		}
	}
	return got, failed
}
