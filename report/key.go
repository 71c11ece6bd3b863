package report

// A key is what the marks of a chart mean, a line each.
type key struct{ items []keyItem }

type keyItem struct {
	draw func(x, y float64) // the mark, from x to the right with its middle at y
	text string
}

func (k *key) add(draw func(x, y float64), text string) {
	k.items = append(k.items, keyItem{draw, text})
}

// keyed draws a key under a chart, in two columns where they have room, and gives where it ends.
func (d *drawing) keyed(k key, top, em float64) (bottom float64) {
	const indent = 2.9
	size, columns := em*0.9, 1
	if d.width > em*55 {
		columns = 2
	}
	width := d.width / float64(columns)
	lines, total := make([][]string, len(k.items)), 0
	for i, item := range k.items {
		lines[i] = wrap(item.text, width-em*(indent+0.6), size, false)
		total += len(lines[i])
	}
	x, y, used, bottom := 0.0, top, 0, top
	for i, item := range k.items {
		if columns == 2 && x == 0 && 2*used >= total {
			x, y = width, top
		}
		if item.draw != nil {
			item.draw(x+em*0.2, y+em*0.62)
		}
		for _, line := range lines[i] {
			d.text(x+em*indent, y+em*0.95, line, size, false, start)
			y += em * 1.25
		}
		used += len(lines[i])
		bottom = max(bottom, y)
	}
	return bottom
}

// arrowHead points down at a turning or another instant.
func (d *drawing) arrowHead(x, y, em float64, fill shade) {
	r := em * 0.38
	d.add(path{points: []point{{x - r, y - r}, {x + r, y - r}, {x, y + r}}, closed: true, weight: 0.7, fill: fill})
}

// lettered draws the boxed letter that a key explains.
func (d *drawing) lettered(x, y, em float64, letter string) {
	half := max(em*0.65, textWidth(letter, em*0.95, true)/2+em*0.2)
	d.rect(x-half, y-em*0.65, 2*half, em*1.3, 0.8, white)
	d.text(x, y+em*0.35, letter, em*0.95, true, middle)
}
