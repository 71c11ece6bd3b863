package report

import "math"

// A pen tells one probe from another without colour: a marker and a dash of its own.
type pen struct {
	marker markerShape
	dash   []float64
}

type markerShape int

const (
	fullDisc markerShape = iota
	openSquare
	fullTriangle
	openDiamond
	crossing
	fullSquare
	openDisc
	fullDiamond
	openTriangle
	plus
)

var dashes = [][]float64{nil, {5, 2}, {1.5, 1.5}, {7, 2, 1.5, 2}, {3, 3}}

// pens gives the n-th way of drawing; neighbours differ in both marker and dash.
func pens(n int) pen {
	return pen{markerShape(n % 10), dashes[n%len(dashes)]}
}

// marker draws a shape of a radius around a point.
func (d *drawing) marker(m markerShape, x, y, r float64) {
	polygon := func(fill shade, sides int, turn float64) {
		p := path{closed: true, weight: r * 0.3, fill: fill}
		for i := range sides {
			a := turn + float64(i)*2*math.Pi/float64(sides)
			p.points = append(p.points, point{x + r*1.15*math.Sin(a), y - r*1.15*math.Cos(a)})
		}
		d.add(p)
	}
	switch m {
	case fullDisc:
		d.add(disc{point{x, y}, r, r * 0.3, black})
	case openDisc:
		d.add(disc{point{x, y}, r, r * 0.3, white})
	case fullSquare:
		polygon(black, 4, math.Pi/4)
	case openSquare:
		polygon(white, 4, math.Pi/4)
	case fullTriangle:
		polygon(black, 3, 0)
	case openTriangle:
		polygon(white, 3, 0)
	case fullDiamond:
		polygon(black, 4, 0)
	case openDiamond:
		polygon(white, 4, 0)
	case crossing:
		d.line(x-r, y-r, x+r, y+r, r*0.45)
		d.line(x-r, y+r, x+r, y-r, r*0.45)
	case plus:
		d.line(x-r*1.2, y, x+r*1.2, y, r*0.45)
		d.line(x, y-r*1.2, x, y+r*1.2, r*0.45)
	}
}

// spread moves places on a line apart until no two are nearer than the gap, or nearer than they must be to stay between
// the ends. The places must be in order.
func spread(places []float64, gap, low, high float64) []float64 {
	if n := len(places); n > 1 {
		gap = min(gap, (high-low)/float64(n-1))
	}
	out := make([]float64, len(places))
	for i, p := range places {
		out[i] = min(max(p, low), high)
		if i > 0 {
			out[i] = max(out[i], out[i-1]+gap)
		}
	}
	last := high
	for i := len(out) - 1; i >= 0 && out[i] > last; i-- {
		out[i] = last
		last -= gap
	}
	return out
}
