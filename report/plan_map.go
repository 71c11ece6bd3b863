package report

import (
	"math"
	"slices"
	"strconv"
	"strings"

	"croftmark/domain"
)

// A spot is a named place in degrees.
type spot struct {
	name  string
	edge  []point // x is degrees east, y degrees north
	isBed bool
}

func degrees(l *domain.Location) (point, bool) {
	if l == nil {
		return point{}, false
	}
	lat, err1 := strconv.ParseFloat(strings.TrimSpace(l.Lat), 64)
	lon, err2 := strconv.ParseFloat(strings.TrimSpace(l.Lon), 64)
	ok := err1 == nil && err2 == nil && math.Abs(lat) <= 90 && math.Abs(lon) <= 180 // not for NaN
	return point{lon, lat}, ok
}

// planMap draws the growing areas as seen from above; nil when there is no coordinate at all.
func planMap(plots []domain.Plot, beds []domain.Bed, width float64, t tongue) *drawing {
	var spots []spot
	for _, b := range beds {
		s := spot{name: b.Name, isBed: true}
		for i := range b.Outline {
			if at, ok := degrees(&b.Outline[i]); ok {
				s.edge = append(s.edge, at)
			}
		}
		if len(s.edge) > 0 {
			spots = append(spots, s)
		}
	}
	for _, p := range plots {
		if at, ok := degrees(p.Location); ok {
			spots = append(spots, spot{name: p.Name, edge: []point{at}})
		}
	}
	if len(spots) == 0 {
		return nil
	}
	low, high := spots[0].edge[0], spots[0].edge[0]
	for _, s := range spots {
		for _, at := range s.edge {
			low = point{min(low.x, at.x), min(low.y, at.y)}
			high = point{max(high.x, at.x), max(high.y, at.y)}
		}
	}
	const height, pad, em, meters = 230.0, 34.0, 7.0, 111320.0 // meters in a degree of latitude
	squeeze := math.Cos((low.y + high.y) / 2 * math.Pi / 180)
	wide, tall := (high.x-low.x)*squeeze*meters, (high.y-low.y)*meters
	scale := min((width-2*pad-60)/max(wide, 40), (height-2*pad)/max(tall, 40)) // points in a meter
	d := &drawing{width: width, height: height, title: t.say("Farm map", "Mapa de la finca")}
	d.rect(0, 0, width, height, 0.8, white)
	on := func(at point) point {
		return point{width/2 + ((at.x-(low.x+high.x)/2)*squeeze*meters)*scale, height/2 - (at.y-(low.y+high.y)/2)*meters*scale}
	}
	var taken [][4]float64
	var said []string
	// The name stands right of its place, or a line lower where another name stands already.
	name := func(at point, text string, bold bool) {
		text = cut(text, width/3, em, bold)
		w := textWidth(text, em, bold)
		x, y := min(at.x+6, width-w-4), at.y+em*0.35
		for range 40 {
			hit := slices.ContainsFunc(taken, func(o [4]float64) bool { return x < o[2] && o[0] < x+w && y-em < o[3] && o[1] < y })
			if !hit {
				break
			}
			if y += em * 1.15; y > height-4 {
				y = em * 1.5
			}
		}
		taken = append(taken, [4]float64{x, y - em, x + w, y})
		d.text(x, y, text, em, bold, start)
	}
	for _, s := range spots {
		said = append(said, s.name)
		if s.isBed {
			var edge []point
			middle := point{}
			for _, at := range s.edge {
				p := on(at)
				edge = append(edge, p)
				middle = point{middle.x + p.x/float64(len(s.edge)), middle.y + p.y/float64(len(s.edge))}
			}
			if len(edge) > 1 {
				d.add(path{points: edge, closed: len(edge) > 2, weight: 0.8, fill: 235})
			} else {
				d.add(disc{at: edge[0], radius: 1.6, weight: 0.6, fill: white})
			}
			name(middle, s.name, false)
			continue
		}
		p := on(s.edge[0])
		d.rect(p.x-2.5, p.y-2.5, 5, 5, 0.6, black)
		name(p, s.name, true)
	}
	d.line(16, 34, 16, 16, 1)
	d.add(path{points: []point{{16, 10}, {13, 18}, {19, 18}}, closed: true, fill: black})
	d.text(16, 43, "N", em+1, true, middle)
	bar := math.Pow(10, math.Floor(math.Log10(100/scale)))
	for _, times := range []float64{5, 2} {
		if bar*times*scale <= 100 {
			bar *= times
			break
		}
	}
	d.line(12, height-12, 12+bar*scale, height-12, 1.2)
	d.text(12, height-16, num(bar)+" m", em, false, start)
	d.desc = t.say("Growing areas: ", "Áreas de cultivo: ") + strings.Join(said, ", ") + "."
	return d
}
