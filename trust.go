package main

import (
	"html/template"
	"net/http"
	"strings"
)

// trustView is what the page about trusting this machine says.
type trustView struct {
	App, Fingerprint string
}

// trustTemplate is read by people who have never done this, in both languages, on a phone that trusts nothing here yet. It
// loads nothing and runs nothing.
var trustTemplate = template.Must(template.New("trust").Parse(`<!doctype html><html lang="en"><meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1"><title>Trust the farm’s book · Confiar en el libro de la granja</title>
<style>body{font:20px/1.5 system-ui,sans-serif;color:#000;background:#fff;margin:1.5rem auto;max-width:40rem;padding:0 1rem}h1{font-size:1.6rem;line-height:1.2}h2{font-size:1.25rem;border-bottom:3px solid}
a.go{display:block;min-height:56px;line-height:56px;border:2px solid;padding:0 1rem;font-weight:700;color:#000;margin:1rem 0;text-align:center}code{font:700 1.05rem/1.6 monospace;overflow-wrap:anywhere}li{margin:.5rem 0}</style>
<h1>Trust the farm’s book on this phone</h1>
<p>The book lives on a computer of the farm. So that this phone may use its camera and keep entries without signal, it has to
know that computer. Do this once, on the farm’s own network.</p>
<ol>
<li><a class="go" href="/trust/farm-ca.crt">1. Get the certificate</a></li>
<li>Compare this with what the computer shows where the book was started. If it is not the same, stop and tell the owner:<br><code>{{.Fingerprint}}</code></li>
<li><b>Android:</b> Settings, Security, More, Install a certificate, CA certificate; pick the file. <b>iPhone:</b> Settings, Profile downloaded, Install; then General, About, Certificate Trust Settings, switch it on.
<b>Laptop:</b> the browser’s settings, Certificates, Authorities, Import.</li>
<li><a class="go" href="{{.App}}/">2. Open the book</a></li>
</ol>
<p>It can vouch only for addresses of private networks and for that computer’s own name, for no place of the internet. To undo it,
remove the certificate in the same settings. A farm that lends its phones out removes it first.</p>
<div lang="es"><h2>Confiar en el libro de la granja en este teléfono</h2>
<p>El libro vive en una computadora de la granja. Para usar la cámara y guardar registros sin señal, este teléfono tiene que conocer esa
computadora. Se hace una vez, en la red de la granja.</p>
<ol>
<li>Baje el certificado con el botón 1 de arriba.</li>
<li>Compare los números con los que muestra la computadora. Si no son iguales, pare y avise al dueño.</li>
<li><b>Android:</b> Ajustes, Seguridad, Más, Instalar un certificado, Certificado de CA. <b>iPhone:</b> Ajustes, Perfil descargado, Instalar; luego General, Información, Confianza de certificados, actívelo.</li>
<li>Abra el libro con el botón 2.</li>
</ol></div></html>
`))

func (p *phones) trustPage(w http.ResponseWriter, r *http.Request) {
	h := w.Header()
	h.Set("Content-Security-Policy", "default-src 'none'; style-src 'unsafe-inline'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'")
	h.Set("X-Content-Type-Options", "nosniff")
	h.Set("Cache-Control", "no-store")
	if strings.HasSuffix(r.URL.Path, ".crt") {
		h.Set("Content-Type", "application/x-x509-ca-cert")
		h.Set("Content-Disposition", `attachment; filename="farm-ca.crt"`)
		w.Write(p.authority.cert.Raw)
		return
	}
	h.Set("Content-Type", "text/html; charset=utf-8")
	trustTemplate.Execute(w, trustView{App: p.app(), Fingerprint: p.authority.fingerprint()})
}
