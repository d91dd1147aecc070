package review

import (
	"cmp"
	"slices"

	"lathwatch/sensors/garden"
)

func sortSeasons(ws []*Winter) {
	slices.SortStableFunc(ws, func(a, b *Winter) int { return cmp.Compare(a.Season, b.Season) })
}

func addDate(all []garden.Date, d garden.Date) []garden.Date {
	if d == 0 {
		return all
	}
	return append(all, d)
}

// median is the middle date, the earlier of two; 0 of none.
func median(all []garden.Date) garden.Date {
	if len(all) == 0 {
		return 0
	}
	slices.Sort(all)
	return all[(len(all)-1)/2]
}
