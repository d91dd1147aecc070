package curve

import "strconv"

// path writes SVG path data with whole numbers: absolute where a line begins, relative after.
type path struct {
	b      []byte
	x, y   int64
	after  byte // last command written
	lonely bool // the last start has no step yet
}

func (p *path) start(x, y int64) {
	p.end()
	p.b = append(p.b, 'M')
	p.b = strconv.AppendInt(p.b, x, 10)
	p.number(y)
	p.x, p.y, p.after, p.lonely = x, y, 'M', true
}

func (p *path) to(x, y int64) {
	if p.after != 'l' {
		p.b = append(p.b, 'l')
		p.b = strconv.AppendInt(p.b, x-p.x, 10)
	} else {
		p.number(x - p.x)
	}
	p.number(y - p.y)
	p.x, p.y, p.after, p.lonely = x, y, 'l', false
}

// number appends n, with a space only where the sign does not part it from the number before.
func (p *path) number(n int64) {
	if n >= 0 {
		p.b = append(p.b, ' ')
	}
	p.b = strconv.AppendInt(p.b, n, 10)
}

// end gives a start without a step a step of nothing: with round ends it is drawn as a dot.
func (p *path) end() {
	if p.lonely {
		p.b = append(p.b, "l0 0"...)
		p.lonely, p.after = false, 'l'
	}
}

func (p *path) close() {
	p.end()
	p.b = append(p.b, 'Z')
	p.after = 'Z'
}

func (p *path) String() string {
	p.end()
	return string(p.b)
}
