package review

// Knows reports whether the winter has a place of that id.
func (r *Report) Knows(place string) bool { return r.Winter.place(place) != nil }
