package api

import (
	"context"
	"io"
	"net/http"

	"github.com/danielgtaylor/huma/v2"

	"croftmark/domain"
	"croftmark/report"
)

// packetAnswer is a packet as data, with what it says about itself.
type packetAnswer struct {
	*domain.Packet
	Gaps    []string                   `json:"gaps" doc:"What the packet cannot tell, in words."`
	Balance []domain.PacketBalanceLine `json:"balance"`
}

type packetOutput struct {
	Body packetAnswer
}

const (
	workbookType = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
	linkedType   = "application/ld+json"
)

// registerPackets offers one answer in every form its reader may want. All forms leave out the same things.
func (s *Server) registerPackets() {
	const under = "/v1/traceback-requests/{id}/"
	huma.Register(s.api, s.operation(http.MethodGet, under+"packet.json", "packet-json", "The answer as data, with the book's proofs", "Trace", domain.Reader, nil), s.packetJSON)
	huma.Register(s.api, s.fileOperation(under+"packet.pdf", "packet-pdf", "The answer as one paper with the chain drawn", "Trace", "application/pdf"), s.packetPDF)
	huma.Register(s.api, s.fileOperation(under+"packet.xlsx", "packet-xlsx", "The answer as a workbook, one sheet per tracking event", "Trace", workbookType),
		s.packetFile(workbookType, "traceback.xlsx", report.PacketXLSX))
	huma.Register(s.api, s.fileOperation(under+"packet.zip", "packet-zip", "The sheets of the workbook as CSV, with the photos, lab reports and certificates of an answer to an authority", "Trace", "application/zip"), s.packetZip)
	epcis := s.fileOperation(under+"epcis.json", "packet-epcis", "The events as EPCIS 2.0", "Trace", linkedType)
	epcis.Responses["200"].Content[linkedType].Schema = &huma.Schema{Type: huma.TypeObject, AdditionalProperties: true, Description: "An EPCIS 2.0 document (GS1)."}
	huma.Register(s.api, epcis, s.packetFile(linkedType, "traceback.epcis.json", writeEPCIS))
}

// packet gathers the answer and leaves out what its reader may not see.
func (s *Server) packet(ctx context.Context, in *idInput) (*domain.Packet, error) {
	p, err := s.db.Packet(readingOf(ctx), in.ID)
	if err != nil {
		return nil, err
	}
	if p.Farm.Web == "" {
		// The address that the labels carry names the farm's things until it has one of its own.
		p.Farm.Web = s.config.PublicURL + "/L/" + p.Farm.Key
	}
	return p.ForAudience(), nil
}

func (s *Server) packetJSON(ctx context.Context, in *idInput) (*packetOutput, error) {
	p, err := s.packet(ctx, in)
	if err != nil {
		return nil, problemOf(ctx, err)
	}
	return &packetOutput{Body: packetAnswer{Packet: p, Gaps: emptyList(p.Gaps()), Balance: emptyList(p.Balance())}}, nil
}

func emptyList[T any](list []T) []T {
	if list == nil {
		return []T{}
	}
	return list
}

func (s *Server) packetPDF(ctx context.Context, in *paperInput) (*fileOutput, error) {
	p, err := s.packet(ctx, &idInput{ID: in.ID})
	if err != nil {
		return nil, problemOf(ctx, err)
	}
	out, err := pdf("traceback", func(w io.Writer) error { return report.PacketPDF(w, p, pageSizeOf(in.Size)) })
	if err != nil {
		return nil, problemOf(ctx, err)
	}
	return out, nil
}

// packetFile serves the packet in the form one writer gives it, as a download.
func (s *Server) packetFile(contentType, name string, draw func(io.Writer, *domain.Packet) error) func(context.Context, *idInput) (*fileOutput, error) {
	return func(ctx context.Context, in *idInput) (*fileOutput, error) {
		p, err := s.packet(ctx, in)
		if err != nil {
			return nil, problemOf(ctx, err)
		}
		out, err := drawn(contentType, "attachment", name, func(w io.Writer) error { return draw(w, p) })
		if err != nil {
			return nil, problemOf(ctx, err)
		}
		return out, nil
	}
}

// packetZip encloses the files of the answer.
func (s *Server) packetZip(ctx context.Context, in *idInput) (*fileOutput, error) {
	open := func(hash string) ([]byte, error) {
		f, err := s.db.File(readingOf(ctx), hash, false, false)
		return f.Content, err
	}
	return s.packetFile("application/zip", "traceback.zip", func(w io.Writer, p *domain.Packet) error { return report.PacketZip(w, p, open) })(ctx, in)
}

func writeEPCIS(w io.Writer, p *domain.Packet) error {
	doc, err := domain.EPCISDocument(p)
	if err != nil {
		return err
	}
	_, err = w.Write(doc)
	return err
}
