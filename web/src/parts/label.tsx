// The label of a lot: what it looks like, the file for the printer, and the print as an entry of the book.

import { useEffect, useState } from 'preact/hooks'
import { remember } from '../book/book'
import { get, getBlob, NoSignal, Refused } from '../book/http'
import type { Sent } from '../book/queue'
import { useBook } from '../book/state'
import { write } from '../book/sync'
import { useWords } from '../words/words'
import { Name } from './page'

interface Ready { picture: string; file: string; printed: number }

export function LabelOf({ code, lotId, containers }: { code: string; lotId: string; containers: number }) {
  const w = useWords()
  const { token, habits } = useBook()
  const size = habits.labelSize ?? '4x2in'
  const [ready, setReady] = useState<Ready>()
  const [none, setNone] = useState('')
  const [why, setWhy] = useState('')
  const [print, setPrint] = useState<'' | 'writing' | Sent['kind']>('')
  useEffect(() => {
    let over = false
    const urls: string[] = []
    const fetchAll = async () => {
      const path = (format: string) => `/v1/labels?lot=${encodeURIComponent(code)}&size=${size}&format=${format}`
      const [picture, file, prints] = await Promise.all([
        getBlob(path('svg'), token), getBlob(path('pdf'), token), get<{ voided?: boolean }[]>(`/v1/label-prints?lot_id=${lotId}`, token),
      ])
      if (over) return
      urls.push(URL.createObjectURL(picture), URL.createObjectURL(file))
      setReady({ picture: urls[0]!, file: urls[1]!, printed: prints.filter(p => !p.voided).length })
    }
    setReady(undefined)
    setNone('')
    fetchAll().catch(e => !over && setNone(e instanceof Refused ? e.problem.detail : e instanceof NoSignal ? w.label.none : String(e)))
    return () => {
      over = true
      urls.forEach(u => URL.revokeObjectURL(u))
    }
  }, [code, size])

  const again = !!ready && ready.printed > 0 && !print
  const printed = async () => {
    if (print) return
    setPrint('writing')
    const body = { lot_id: lotId, size, copies: Math.max(1, containers), ...(again ? { reprint: true, reason: why } : {}) }
    const { sent } = await write({ path: '/v1/label-prints', body, said: { act: 'print', thing: code } })
    setPrint(sent.kind)
  }
  return (
    <section class="label">
      <h2>{w.label.title}</h2>
      {none && <p class="note" role="status">{none}</p>}
      {!none && !ready && <p role="status">{w.label.getting}</p>}
      {ready && <img class="picture" src={ready.picture} alt={w.label.picture(code)} />}
      <label class="field">{w.label.size}
        <select value={size} onChange={e => remember({ labelSize: e.currentTarget.value })}>
          {Object.entries(w.label.sizes).map(([id, name]) => <option key={id} value={id}>{name}</option>)}
        </select>
      </label>
      {again && <label class="field">{w.label.again}<input value={why} onInput={e => setWhy(e.currentTarget.value)} /></label>}
      {ready && (again && !why.trim()
        ? <p class="note">{w.label.sayWhy}</p>
        : <p><a class="go main" href={ready.file} download={`label-${code}.pdf`} onClick={() => void printed()}>{w.label.get}</a></p>)}
      {print && (
        <p role="status">
          {print === 'writing' ? w.cut.writing : print === 'written' ? w.label.written : print === 'refused' ? <a class="go" href="/app/waiting">{w.refusedCount(1)}</a> : w.pile.later}
        </p>
      )}
    </section>
  )
}

// CodeText writes a code in its parts, large enough to copy onto a crate by hand.
export function CodeText({ code }: { code: string }) {
  return <p class="code"><Name>{code}</Name></p>
}
