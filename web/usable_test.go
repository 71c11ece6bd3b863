//go:build external

package web_test

import (
	"os"
	"testing"
)

func readAxe(t *testing.T) string {
	t.Helper()
	axe, err := os.ReadFile("node_modules/axe-core/axe.min.js")
	if err != nil {
		t.Fatalf("%v: run npm ci in web/ first", err)
	}
	return string(axe)
}

// usable runs axe on the page, with the contrast that sunlight needs (7:1), and measures letters, targets and width itself.
func (p *phone) usable(axe, page string) {
	p.t.Helper()
	eval[bool](p, axe+";true")
	found := eval[[]string](p, `axe.run(document, {runOnly: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa', 'best-practice', 'wcag2aaa'],
		rules: {'color-contrast-enhanced': {enabled: true}}}).then(r => r.violations.flatMap(v => v.nodes.map(n => v.id + ': ' + n.html.slice(0, 160) + ' ' + n.failureSummary)))`)
	for _, violation := range found {
		p.t.Errorf("%s: %s", page, violation)
	}
	small := eval[[]string](p, `[...document.querySelectorAll('a, button, input, select')].filter(e => !e.classList.contains('skip') && e.getClientRects().length)
		.map(e => [e, e.getBoundingClientRect()]).filter(([e, r]) => r.width < 47.5 || r.height < 47.5).map(([e, r]) => e.outerHTML.slice(0, 100) + ' ' + r.width + '×' + r.height)`)
	tiny := eval[[]string](p, `[...document.querySelectorAll('body *')].filter(e => [...e.childNodes].some(n => n.nodeType === 3 && n.data.trim()) && e.getClientRects().length
		&& (e instanceof SVGElement ? e.getBoundingClientRect().height < 15 : parseFloat(getComputedStyle(e).fontSize) < 18)).map(e => e.outerHTML.slice(0, 100))`)
	if wide := eval[int](p, `document.documentElement.scrollWidth - innerWidth`); wide > 0 {
		p.t.Errorf("%s is %d px wider than the screen", page, wide)
	}
	if len(small)+len(tiny) > 0 {
		p.t.Errorf("%s: targets under 48 px: %q; letters under 18 px: %q", page, small, tiny)
	}
}
