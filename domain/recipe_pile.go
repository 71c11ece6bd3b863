package domain

import (
	"math/big"

	"github.com/shopspring/decimal"
)

// PileShape is the outline of a heap for estimating its volume.
type PileShape string

const (
	PileTriangle  PileShape = "triangle"  // windrow with a sharp ridge: b·h·L/2
	PileParabola  PileShape = "parabola"  // the usual rounded windrow: 2/3·b·h·L
	PileTrapezoid PileShape = "trapezoid" // flat top of width t: (b+t)/2·h·L
	PileCone      PileShape = "cone"      // π·r²·h/3 with r half of the width
)

// PileSize is a heap measured with a tape. Length and Top are left out where the shape has none; a cone has its width
// at the foot.
type PileSize struct {
	Shape                      PileShape
	Width, Height, Length, Top Quantity
}

// pi to more digits than any tape measures.
var pi = decimal.RequireFromString("3.14159265358979323846")

// Volume gives the volume in yd3, an estimate (formulas: calculations reference 1.1). The error names every measure
// that is missing.
func (s PileSize) Volume() (Figure, error) {
	var p Problems
	checkOneOf(&p, "/shape", s.Shape, PileTriangle, PileParabola, PileTrapezoid, PileCone)
	s.Width.Check(&p, "/width", "10000", Length)
	s.Height.Check(&p, "/height", "1000", Length)
	if s.Shape != PileCone {
		s.Length.Check(&p, "/length", "100000", Length)
	}
	if s.Shape == PileTrapezoid {
		s.Top.Check(&p, "/top", "10000", Length)
	}
	if err := p.Err(); err != nil {
		return Figure{}, err
	}
	return Figure{quoRat(s.cubicFeet(), big.NewRat(27, 1))}, nil
}

func (s PileSize) cubicFeet() *big.Rat {
	b, h := feet(s.Width), feet(s.Height)
	switch s.Shape {
	case PileTriangle:
		return mulRat(mulRat(b, h), mulRat(feet(s.Length), big.NewRat(1, 2)))
	case PileParabola:
		return mulRat(mulRat(b, h), mulRat(feet(s.Length), big.NewRat(2, 3)))
	case PileTrapezoid:
		mean := quoRat(addRat(b, feet(s.Top)), big.NewRat(2, 1))
		return mulRat(mulRat(mean, h), feet(s.Length))
	}
	r := quoRat(b, big.NewRat(2, 1))
	return mulRat(mulRat(mulRat(r, r), h), quoRat(pi.Rat(), big.NewRat(3, 1)))
}

// feet is the length in ft, exactly; nil when it is no length.
func feet(q Quantity) *big.Rat {
	ft, err := ratIn(q, "ft")
	if err != nil {
		return nil
	}
	return ft
}

// BucketDensity gives lb/yd3 from net weights of 5-gallon buckets (F11): 46,656 in³ of a yard over 1,155 in³ of the
// bucket, about 40.39 per pound. Buckets are filled to a third, dropped squarely ten times from about a foot, the same
// at two thirds and at the line, then topped up without dropping (procedure [verified: WSU Puyallup]; factor
// [computed]). Several buckets are averaged; the more, the better.
func BucketDensity(net ...Quantity) (Figure, error) {
	var p Problems
	p.Check(len(net) > 0, "/net", "Weigh at least one bucket.")
	sum := new(big.Rat)
	for _, q := range net {
		q.Check(&p, "/net", "1000", Mass)
		if lb, err := ratIn(q, "lb"); err == nil {
			sum = addRat(sum, lb)
		}
	}
	if err := p.Err(); err != nil {
		return Figure{}, err
	}
	mean := quoRat(sum, big.NewRat(int64(len(net)), 1))
	return Figure{mulRat(mean, big.NewRat(46656, 1155))}, nil
}
