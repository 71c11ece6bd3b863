// Reading tables in: tried first, with what is to be mended line by line; then all of it or nothing. Both say how far they
// are, and a try can be stopped.

import { useRef, useState } from 'preact/hooks'
import { refresh } from '../book/known'
import { useBook } from '../book/state'
import { sharedPhone } from '../book/http'
import { OneOf } from '../parts/fields'
import { Helper, Page } from '../parts/page'
import { useWords } from '../words/words'
import { useDesk } from './words'

interface Trouble { line: number; column?: string; detail: string }
interface Report { dry_run: boolean; rows: number; written: number; problems: Trouble[]; warnings: Trouble[] }
interface Refusal { detail: string; errors?: { pointer: string; detail: string }[] }

// lines reads an answer that comes line by line, and gives the last one.
async function lines(response: Response, told: (rows: number) => void): Promise<Report | Refusal> {
  const reader = response.body!.pipeThrough(new TextDecoderStream()).getReader()
  let rest = ''
  let last = ''
  for (;;) {
    const { value, done } = await reader.read()
    rest += value ?? ''
    const parts = rest.split('\n')
    rest = parts.pop()!
    for (const line of parts) {
      if (!line.trim()) continue
      last = line
      const step = JSON.parse(line) as { rows?: number }
      if (step.rows !== undefined) told(step.rows)
    }
    if (done) return JSON.parse(rest.trim() || last) as Report | Refusal
  }
}

export function Imports() {
  const w = useWords()
  const t = useDesk().imports
  const { token } = useBook()
  const [kind, setKind] = useState('beds')
  const [file, setFile] = useState<File>()
  const [tried, setTried] = useState<Report>()
  const [told, setTold] = useState('')
  const [rows, setRows] = useState(-1)
  const stop = useRef<AbortController>(null)
  const send = async (dry: boolean) => {
    if (!file || rows >= 0) return
    stop.current = new AbortController()
    setRows(0)
    setTold('')
    try {
      const response = await fetch(`/v1/imports/${kind}.csv?dry_run=${dry}&progress=true`, {
        method: 'POST', body: file, signal: stop.current.signal, credentials: token === sharedPhone ? 'same-origin' : 'omit',
        headers: { 'Content-Type': 'text/csv', ...(token === sharedPhone ? {} : { Authorization: 'Bearer ' + token }) },
      })
      const report = await lines(response, setRows)
      if ('detail' in report) setTold([report.detail, ...(report.errors ?? []).map(e => e.detail)].join(' '))
      else if (dry) setTried(report)
      else { setTried(undefined); setTold(t.written(report.written)); void refresh({ lists: true }) }
    } catch {
      setTold(stop.current.signal.aborted ? t.stopped : w.acts.form.online)
    }
    setRows(-1)
  }
  return (
    <Page title={t.title} under={t.lead}>
      <OneOf legend={t.kind} of={t.kinds} value={kind} onValue={k => { setKind(k); setTried(undefined); setTold('') }} />
      <label class="field">{t.file}<input type="file" accept=".csv,text/csv" onChange={e => { setFile(e.currentTarget.files?.[0]); setTried(undefined); setTold('') }} /></label>
      <p class="acts">
        <button type="button" class="main" disabled={!file || rows >= 0} onClick={() => void send(true)}>{t.dry}</button>
        {tried && tried.problems.length === 0 && <button type="button" class="main" disabled={rows >= 0} onClick={() => void send(false)}>{t.write(tried.rows)}</button>}
        {rows >= 0 && tried === undefined && <button type="button" onClick={() => stop.current?.abort()}>{t.stop}</button>}
      </p>
      {rows >= 0 && <p role="status">{t.reading(rows)}</p>}
      {told && <p class="why" role="status"><bdi>{told}</bdi></p>}
      {tried && (
        <section class="leaf">
          <h2>{t.rows(tried.rows)}</h2>
          {tried.problems.length === 0 && <p>{t.fine}</p>}
          {([[t.problems, tried.problems], [t.warnings, tried.warnings]] as const).map(([title, list]) => list.length > 0 && (
            <div key={title}><h3>{title} <span class="count">{list.length}</span></h3><ul class="dashes" lang="en">{list.slice(0, 200).map((p, i) => <li key={i}>{t.line} {p.line}{p.column && <>, <bdi>{p.column}</bdi></>}: <bdi>{p.detail}</bdi></li>)}</ul></div>
          ))}
        </section>
      )}
      <Helper />
    </Page>
  )
}
