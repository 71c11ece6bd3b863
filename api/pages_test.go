package api_test

import (
	"bytes"
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"testing"
	"time"

	"croftmark/api"
	"croftmark/domain"
)

// visit opens a page as somebody without an account.
func (s *service) visit(path string) *answer {
	s.t.Helper()
	return s.send(httptest.NewRequest(http.MethodGet, path, nil))
}

// A scanned crate shows what the farm chose, and nothing else.
func TestFarmChoosesWhatAScanShows(t *testing.T) {
	t.Parallel()
	x := newField(t)
	crop := x.post(domain.Lead, "/v1/crops", fields{"name": "Beet", "variety": "Red Head", "soil_contact": "touches"}).id()
	planting := x.post(domain.Crew, "/v1/plantings", fields{"crop_id": crop, "bed_ids": []string{x.bed}, "planted_on": "2026-05-01"}).id()
	lot := x.lot(planting, "2026-08-08")
	x.post(domain.Crew, "/v1/holds", fields{"on": fields{"lot_id": lot["id"]}, "reason": "Glass."}).is(http.StatusCreated)
	link, err := url.Parse(x.get(domain.Reader, "/v1/lots/"+lot["code"].(string)).text("url"))
	if err != nil {
		t.Fatal(err)
	}
	facts := map[string]string{"crop": "Beet", "variety": "Red Head", "cut-day": "2026-08-08", "status": "not organic", "bed": "Lower 3", "farm": "Fern Bank",
		"place": "118 Hollow Road", "phone": "555 0100", "hold": "On hold: do not sell or eat"}
	about := fields{"name": "Fern Bank", "time_zone": "America/New_York", "address": "118 Hollow Road", "phone": "555 0100"}
	show := func(chosen ...string) {
		t.Helper()
		body := about
		if chosen != nil {
			body = with(about, "public_page", chosen)
		}
		x.post(domain.Owner, "/v1/farm", body).is(http.StatusCreated)
		page := string(x.visit(link.Path).is(http.StatusOK).Body)
		if chosen == nil {
			chosen = []string{"crop", "farm"}
		}
		for fact, value := range facts {
			want := strings.Contains(" "+strings.Join(chosen, " ")+" ", " "+fact+" ")
			if strings.Contains(page, value) != want {
				t.Errorf("with %v chosen: %s shown is %t", chosen, fact, !want)
			}
		}
		if !strings.Contains(page, lot["code"].(string)) || strings.Contains(page, "40") && strings.Contains(page, "40 lb") || strings.Contains(page, "Glass") {
			t.Errorf("no code, or too much:\n%s", page)
		}
	}
	show()
	for fact := range facts {
		show(fact)
	}
	show("crop", "variety", "cut-day", "status", "bed", "farm", "place", "phone", "hold")
}

// Wrong check characters, unknown codes and unknown farms are one answer, to the byte.
func TestNothingCanBeGuessed(t *testing.T) {
	t.Parallel()
	x := newField(t)
	code := x.lot(x.radish, "2026-08-08")["code"].(string)
	link, err := url.Parse(x.get(domain.Reader, "/v1/lots/"+code).text("url"))
	if err != nil {
		t.Fatal(err)
	}
	mine := strings.TrimSuffix(link.Path, code)
	want := x.visit(mine + "nonsense").is(http.StatusNotFound)
	if !strings.Contains(string(want.Body), "nothing at this address") || !strings.Contains(string(want.Body), "No hay nada") {
		t.Errorf("%s", want.Body)
	}
	for name, path := range map[string]string{
		"wrong check characters": mine + code[:len(code)-2] + "00",
		"right code, no lot":     mine + "26219-L3-RAD-1-SS",
		"no such crate":          mine + domain.CrateCode(code, 400),
		"pack lot":               mine + domain.PackLotCode(domain.NewDate(2026, 8, 8), "Radish", 1),
		"no such farm":           "/L/AAAAAAA/" + code,
		"no farm's key":          "/L/%00/" + code,
		"link of nobody":         "/B/AAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAA",
		"no link":                "/b/%00",
	} {
		a := x.visit(path)
		if a.Status != http.StatusNotFound || !bytes.Equal(a.Body, want.Body) || a.Header.Get("Content-Type") != want.Header.Get("Content-Type") {
			t.Errorf("%s: %d %s", name, a.Status, a.Body)
		}
	}
}

// Who asks for very many pages is told to wait, whichever page it is.
func TestPagesAreLimited(t *testing.T) {
	t.Parallel()
	for _, path := range []string{"/L/AAAAAAA/x", "/L/AAAAAAA/01/" + exampleGTIN + "/10/26219-L3-RAD-1-SS", "/01/" + exampleGTIN + "/10/26219-L3-RAD-1-SS", "/B/AAAAAAAA"} {
		t.Run(path, func(t *testing.T) {
			t.Parallel()
			s := newService(t)
			s.limited(api.Limits{Public: api.Limit{AtOnce: 3, Each: time.Hour}})
			for range 3 {
				s.visit(path).is(http.StatusNotFound)
			}
			s.visit(path).problem(http.StatusTooManyRequests, domain.CodeTooMany)
		})
	}
}
