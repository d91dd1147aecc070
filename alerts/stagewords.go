package alerts

// Words says a stage as a keeper would.
func (s Stage) Words() string {
	switch s {
	case Nose:
		return "nose up"
	case Opening:
		return "opening"
	case Open:
		return "open"
	case Bud:
		return "in bud"
	case Flower:
		return "in flower"
	case LeafDown:
		return "leaves down"
	}
	return "closed"
}
