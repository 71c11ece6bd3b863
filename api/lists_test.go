package api_test

import (
	"fmt"
	"net/http"
	"regexp"
	"slices"
	"testing"

	"croftmark/domain"
)

var nextLink = regexp.MustCompile(`^<(/v1/[^>]+)>; rel="next"$`)

// pages follows the Link headers from a first page to the end.
func (f *farm) pages(path string) (pages [][]string) {
	f.t.Helper()
	for path != "" {
		if len(pages) > 50 {
			f.t.Fatal("the pages do not end")
		}
		a := f.get(domain.Reader, path).is(http.StatusOK)
		var names []string
		for _, r := range a.list() {
			names = append(names, r["name"].(string))
		}
		pages, path = append(pages, names), ""
		if link := a.Header.Get("Link"); link != "" {
			m := nextLink.FindStringSubmatch(link)
			if m == nil {
				f.t.Fatalf("Link %q", link)
			}
			path = m[1]
		}
	}
	return pages
}

func TestListInPages(t *testing.T) {
	t.Parallel()
	f := newFarm(t)
	var newestFirst []string
	for i := range 7 {
		name := fmt.Sprintf("Plot %d", i)
		f.post(domain.Lead, "/v1/plots", fields{"name": name}).is(http.StatusCreated)
		newestFirst = slices.Insert(newestFirst, 0, name)
	}
	pages := f.pages("/v1/plots?limit=2")
	if got := slices.Concat(pages...); len(pages) != 4 || !slices.Equal(got, newestFirst) {
		t.Errorf("pages of two: %v", pages)
	}
	for _, limit := range []string{"7", "8", "500"} {
		if pages := f.pages("/v1/plots?limit=" + limit); len(pages) != 1 || !slices.Equal(pages[0], newestFirst) {
			t.Errorf("limit %s: %v", limit, pages)
		}
	}
	if pages := f.pages("/v1/plots"); len(pages) != 1 {
		t.Errorf("without a limit: %v", pages)
	}

	// What is written or changed between two pages does not shift them.
	a := f.get(domain.Reader, "/v1/plots?limit=3").is(http.StatusOK)
	oldest := f.get(domain.Reader, "/v1/plots").list()[6]["id"].(string)
	f.post(domain.Lead, "/v1/plots", fields{"name": "Plot 7"}).is(http.StatusCreated)
	f.post(domain.Lead, "/v1/plots/"+oldest+"/corrections", fields{"reason": "Slip.", "changes": fields{"note": "seen"}}).is(http.StatusCreated)
	rest := f.pages(nextLink.FindStringSubmatch(a.Header.Get("Link"))[1])
	if got := slices.Concat(rest...); !slices.Equal(got, newestFirst[3:]) {
		t.Errorf("after a new record: %v", got)
	}
}

// Beds that one layout laid share an entry; the cursor tells them apart.
func TestListInPagesThroughOneEntry(t *testing.T) {
	t.Parallel()
	x := newField(t)
	var lay []fields
	for i := range 5 {
		lay = append(lay, fields{"name": fmt.Sprintf("Strip %d", i), "over": []string{x.bed}})
	}
	x.post(domain.Lead, "/v1/bed-layouts", fields{"plot_id": x.plot, "on": "2026-09-01", "retire": []string{x.bed}, "lay": lay}).is(http.StatusCreated)
	got := slices.Concat(x.pages("/v1/beds?limit=2&plot_id=" + x.plot)...)
	slices.Sort(got)
	if want := []string{"Lower 3", "Strip 0", "Strip 1", "Strip 2", "Strip 3", "Strip 4"}; !slices.Equal(got, want) {
		t.Errorf("beds in pages: %v", got)
	}
}

func TestListFilters(t *testing.T) {
	t.Parallel()
	x := newField(t)
	x.post(domain.Crew, "/v1/inputs", fields{"name": "Kale seed", "category": "seed"}).is(http.StatusCreated)
	other := x.post(domain.Lead, "/v1/plots", fields{"name": "Upper"}).id()
	for path, want := range map[string]int{
		"/v1/inputs?category=seed":       1,
		"/v1/inputs?category=raw-manure": 1,
		"/v1/inputs?category=mineral":    0,
		"/v1/inputs":                     2,
		"/v1/beds?plot_id=" + x.plot:     1,
		"/v1/beds?plot_id=" + other:      0,
		"/v1/people?role=crew":           1,
		"/v1/input-lots?supplier=Brindle+Fen+Stables&supplier_lot=K7": 1,
		"/v1/input-lots?supplier=Brindle+Fen+Stables&supplier_lot=K8": 0,
		"/v1/crops?name=radish":         1,
		"/v1/crops?name=%27+or+true+--": 0,
		"/v1/crops?name=%22%7D":         0,
	} {
		if got := len(x.get(domain.Reader, path).is(http.StatusOK).list()); got != want {
			t.Errorf("%s: %d records, want %d", path, got, want)
		}
	}
	if pages := x.pages("/v1/inputs?category=seed&limit=1"); len(pages) != 1 {
		t.Errorf("filtered: %v", pages)
	}
	for _, path := range []string{"/v1/inputs?colour=red", "/v1/inputs?plot_id=" + x.plot, "/v1/plots?name=Lower", "/v1/inputs?limit=0",
		"/v1/inputs?limit=501", "/v1/inputs?limit=-1", "/v1/inputs?limit=ten", "/v1/inputs?limit=99999999999999999999", "/v1/inputs?cursor=nonsense",
		"/v1/inputs?cursor=bm9uc2Vuc2U", "/v1/inputs?category=seed&category=mineral", "/v1/inputs?limit=2&limit=3", "/v1/harvest-refusals?colour=red", "/v1/inputs?category=seed%00", "/v1/inputs?category=%FF"} {
		a := x.get(domain.Reader, path)
		if a.Status != http.StatusUnprocessableEntity {
			t.Errorf("%s: %d, want 422: %s", path, a.Status, a.Body)
			continue
		}
		if p := a.problem(http.StatusUnprocessableEntity, domain.CodeInvalid); len(p.Errors) == 0 {
			t.Errorf("%s: no field is named: %s", path, a.Body)
		}
		if word := goWords.FindString(string(a.Body)); word != "" {
			t.Errorf("%s: the answer says %q: %s", path, word, a.Body)
		}
	}
}

func TestBookThroughHTTP(t *testing.T) {
	t.Parallel()
	x := newField(t)
	n := x.size()
	var seq int64
	for after := int64(0); after < n; after += 5 {
		for _, e := range x.get(domain.Reader, fmt.Sprintf("/v1/book/entries?after=%d&limit=5", after)).is(http.StatusOK).list() {
			seq++
			if int64(e["seq"].(float64)) != seq {
				t.Errorf("entry %v where %d is due", e["seq"], seq)
			}
		}
	}
	if seq != n {
		t.Errorf("%d entries read, the checkpoint says %d", seq, n)
	}
	for ask, first := range map[string]int64{"newest=true&limit=3": n - 2, fmt.Sprintf("newest=true&after=%d", n-2): n - 1, "newest=true&limit=500": 1} {
		list := x.get(domain.Reader, "/v1/book/entries?"+ask).is(http.StatusOK).list()
		if len(list) == 0 || list[0]["seq"] != float64(first) || list[len(list)-1]["seq"] != float64(n) || int64(len(list)) != n-first+1 {
			t.Errorf("%s: %d entries, want those from %d to %d in order: %v", ask, len(list), first, n, list)
		}
	}
	proof := x.get(domain.Reader, fmt.Sprintf("/v1/book/proof/%d", n-1)).is(http.StatusOK).fields()
	if proof["entry"] != float64(n-1) || proof["checkpoint"].(fields)["size"] != float64(n) || len(proof["hashes"].([]any)) == 0 {
		t.Errorf("proof: %+v", proof)
	}
	if got := x.get(domain.Reader, fmt.Sprintf("/v1/book/entries?after=%d", n)).is(http.StatusOK).list(); len(got) != 0 {
		t.Errorf("after the end: %v", got)
	}
}
