package report

import (
	"fmt"
	"math"
	"slices"
	"strings"
)

// draw lays the chain out in a width and draws it. Levels that nobody stands on are left out.
func (c *chain) draw(width, em float64) *drawing {
	d := &drawing{width: width, title: "The way of the food"}
	var levels []int
	for level := range c.levels {
		if len(c.on(level)) > 0 {
			levels = append(levels, level)
		}
	}
	arrows := c.bends(levels)
	rows := c.order(levels, arrows)
	const left = 46.0
	y := em * 0.6
	tops, bottoms := map[int]float64{}, map[int]float64{}
	for _, level := range levels {
		row := rows[level]
		c.place(row, left, width-left, em)
		height := 0.0
		for _, b := range row {
			height = max(height, b.height(em))
		}
		tops[level], bottoms[level] = y, y+height
		d.label(0, y+em*1.1, left-4, c.levels[level], em)
		y += height + em*3.4
	}
	d.height = y - em*3
	for _, a := range arrows {
		from, to := c.find(a.from), c.find(a.to)
		x1, y1 := c.port(from, a, arrows, true), bottoms[from.level]
		if !from.bend {
			y1 = tops[from.level] + from.height(em)
		}
		x2, y2 := c.port(to, a, arrows, false), tops[to.level]
		d.line(x1, y1, x2, y2, 0.7)
		if to.bend {
			d.line(x2, y2, x2, bottoms[to.level], 0.7)
		} else {
			d.tip(x1, y1, x2, y2, em)
		}
	}
	for _, level := range levels {
		for _, b := range rows[level] {
			if !b.bend {
				d.boxed(b, tops[level], em)
			}
		}
	}
	d.desc = c.inWords(levels)
	return d
}

// bends puts a bend on every level that an arrow passes, so that it runs between the boxes and not through them.
func (c *chain) bends(levels []int) (out []chainArrow) {
	at := func(level int) int { return slices.Index(levels, level) }
	seen := map[chainArrow]bool{}
	for n, a := range c.arrows {
		from, to := c.find(a.from), c.find(a.to)
		if from == nil || to == nil || from == to || from.level >= to.level || seen[chainArrow{from.key, to.key}] {
			continue
		}
		seen[chainArrow{from.key, to.key}] = true
		key := from.key
		for i := at(from.level) + 1; i < at(to.level); i++ {
			bend := &chainBox{key: fmt.Sprint("bend ", n, " ", i), level: levels[i], bend: true}
			c.boxes = append(c.boxes, bend)
			out = append(out, chainArrow{key, bend.key})
			key = bend.key
		}
		out = append(out, chainArrow{key, to.key})
	}
	return out
}

// order sorts each level by the middle of what it hangs on, a few times down and up, which untangles most arrows.
func (c *chain) order(levels []int, arrows []chainArrow) map[int][]*chainBox {
	rows := map[int][]*chainBox{}
	spot := map[string]float64{}
	settle := func(level int) {
		for i, b := range rows[level] {
			spot[b.key] = (float64(i) + 0.5) / float64(len(rows[level]))
		}
	}
	for _, level := range levels {
		rows[level] = c.on(level)
		settle(level)
	}
	for round := range 6 {
		order := slices.Clone(levels)
		if round%2 == 1 {
			slices.Reverse(order)
		}
		for _, level := range order {
			middle := map[string]float64{}
			for _, b := range rows[level] {
				sum, n := 0.0, 0
				for _, a := range arrows {
					other := ""
					if round%2 == 0 && c.find(a.to) == b {
						other = c.find(a.from).key
					} else if round%2 == 1 && c.find(a.from) == b {
						other = c.find(a.to).key
					}
					if other != "" {
						sum, n = sum+spot[other], n+1
					}
				}
				middle[b.key] = spot[b.key]
				if n > 0 {
					middle[b.key] = sum / float64(n)
				}
			}
			slices.SortStableFunc(rows[level], func(a, b *chainBox) int {
				switch x := middle[a.key] - middle[b.key]; {
				case x < 0:
					return -1
				case x > 0:
					return 1
				}
				return 0
			})
			settle(level)
		}
	}
	return rows
}

// place gives each box of a row its room; bends take little.
func (c *chain) place(row []*chainBox, left, width, em float64) {
	const bendWidth, gap = 10.0, 8.0
	boxes := 0
	for _, b := range row {
		if !b.bend {
			boxes++
		}
	}
	room := width - bendWidth*float64(len(row)-boxes) - gap*float64(len(row)-1)
	each := min(room/float64(max(boxes, 1)), em*24)
	used := each*float64(boxes) + bendWidth*float64(len(row)-boxes) + gap*float64(len(row)-1)
	x := left + (width-used)/2
	for _, b := range row {
		b.x, b.width = x, each
		if b.bend {
			b.width = bendWidth
		}
		x += b.width + gap
	}
}

// port spreads the arrows of a box over its edge in the order of where they go.
func (c *chain) port(b *chainBox, a chainArrow, arrows []chainArrow, leaving bool) float64 {
	if b.bend {
		return b.x + b.width/2
	}
	var others []*chainBox
	var mine *chainBox
	for _, x := range arrows {
		here, there := c.find(x.from), c.find(x.to)
		if !leaving {
			here, there = there, here
		}
		if here == b {
			others = append(others, there)
			if x == a {
				mine = there
			}
		}
	}
	slices.SortStableFunc(others, func(p, q *chainBox) int { return int(math.Round((p.x + p.width/2 - q.x - q.width/2) * 100)) })
	return b.x + b.width*(float64(slices.Index(others, mine))+1)/(float64(len(others))+1)
}

func (b *chainBox) wrapped(em float64) (lines []string, bold []bool) {
	for i, text := range b.lines {
		room := b.width - em*0.6
		parts := wrap(hyphenated(text, room, em, i == 0), room, em, i == 0)
		if most := 3; len(parts) > most {
			parts = append(parts[:most-1], cut(strings.Join(parts[most-1:], " "), room, em, i == 0))
		}
		for _, part := range parts {
			if part != "" {
				lines, bold = append(lines, part), append(bold, i == 0)
			}
		}
	}
	return lines, bold
}

// hyphenated lets a code that is wider than the room break behind a hyphen.
func hyphenated(text string, room, em float64, bold bool) string {
	words := strings.Fields(text)
	for i, w := range words {
		if textWidth(w, em, bold) <= room {
			continue
		}
		for at := len(w) - 2; at > 0; at-- {
			if w[at] == '-' && textWidth(w[:at+1], em, bold) <= room {
				words[i] = w[:at+1] + " " + w[at+1:]
				break
			}
		}
	}
	return strings.Join(words, " ")
}

func (b *chainBox) height(em float64) float64 {
	if b.bend {
		return 0
	}
	lines, _ := b.wrapped(em)
	return float64(len(lines))*em*1.2 + em*0.9
}

func (d *drawing) boxed(b *chainBox, top, em float64) {
	frame := path{points: []point{{b.x, top}, {b.x + b.width, top}, {b.x + b.width, top + b.height(em)}, {b.x, top + b.height(em)}}, closed: true, weight: 0.8, fill: white}
	if b.open {
		frame.dash = []float64{3, 2}
	}
	d.add(frame)
	lines, bold := b.wrapped(em)
	for i, line := range lines {
		d.text(b.x+b.width/2, top+em*1.25+float64(i)*em*1.2, line, em, bold[i], middle)
	}
}

// label names a level at the left edge.
func (d *drawing) label(x, y, width float64, text string, em float64) {
	for i, line := range wrap(text, width, em, true) {
		d.text(x, y+float64(i)*em*1.2, line, em, true, start)
	}
}

// tip is the head of an arrow that came from x1, y1.
func (d *drawing) tip(x1, y1, x2, y2, em float64) {
	length := math.Hypot(x2-x1, y2-y1)
	if length == 0 {
		return
	}
	ux, uy := (x2-x1)/length, (y2-y1)/length
	long, half := em*0.8, em*0.3
	d.add(path{points: []point{{x2, y2}, {x2 - ux*long - uy*half, y2 - uy*long + ux*half}, {x2 - ux*long + uy*half, y2 - uy*long - ux*half}}, closed: true, fill: black})
}

// inWords tells the chain to who can't see it.
func (c *chain) inWords(levels []int) string {
	var parts []string
	for _, level := range levels {
		var names []string
		for _, b := range c.on(level) {
			if !b.bend {
				names = append(names, strings.Join(b.lines, ", "))
			}
		}
		parts = append(parts, c.levels[level]+": "+strings.Join(names, "; "))
	}
	return strings.Join(parts, ". ") + "."
}
