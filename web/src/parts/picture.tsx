// A drawing of the service, shown from memory because a page may not load pictures with the phone's right to read. It is
// asked for in the width it will have, so that its letters are read without scrolling sideways.

import { useEffect, useRef, useState } from 'preact/hooks'
import { getBlob, getFile, Refused } from '../book/http'
import { useBook } from '../book/state'
import { useWidth } from '../draw/width'
import { useWords } from '../words/words'

export function Picture(drawing: { path: string; alt: string }) {
  return <Drawn key={drawing.path} {...drawing} /> // never one drawing under the name of another
}

function Drawn({ path, alt }: { path: string; alt: string }) {
  const w = useWords()
  const { token } = useBook()
  const [url, setUrl] = useState('')
  const [far, setFar] = useState(false)
  const [room, frame] = useWidth(0)
  const width = widthOf(room)
  useEffect(() => {
    if (!width) return
    let over = false
    getBlob(`${path}&width=${width}`, token).then(blob => !over && setUrl(URL.createObjectURL(blob))).catch(() => !over && setFar(true))
    return () => { over = true }
  }, [path, token, width])
  useEffect(() => () => URL.revokeObjectURL(url), [url])
  if (far && !url) return <p class="stale">{w.acts.form.online}</p> // a phone that is only turned keeps what it has
  return <div class="drawn" ref={frame}>{url ? <img src={url} alt={alt} /> : <p role="status">{w.working}</p>}</div>
}

// widthOf gives the width that a drawing has for itself, whose small letters are 11 of it high: 13 pixels in the narrowest
// phone, 16 where there is room, and none before the room is known. The service draws none that is narrower than 280.
function widthOf(pixels: number): number {
  return pixels && Math.round(Math.max(280, Math.min(pixels, 704) / 1.45))
}

// FileButton fetches a paper and hands it to the browser. It says how much has come, and can be stopped.
export function FileButton({ path, name, main, children }: { path: string; name: string; main?: boolean; children: string }) {
  const w = useWords()
  const { token } = useBook()
  const [told, setTold] = useState('')
  const [bytes, setBytes] = useState(-1)
  const stop = useRef<AbortController>(null)
  useEffect(() => () => stop.current?.abort(), [])
  const fetchIt = async () => {
    const now = stop.current = new AbortController()
    setBytes(0)
    setTold('')
    try {
      hand(await getFile(path, token, now.signal, setBytes), name)
    } catch (e) {
      setTold(now.signal.aborted ? '' : e instanceof Refused ? e.problem.detail : w.acts.form.online)
    }
    setBytes(-1)
  }
  return (
    <span class="fetch">
      <button type="button" class={main ? 'main' : ''} disabled={bytes >= 0} onClick={() => void fetchIt()}>{children}</button>
      {bytes >= 0 && <><span role="status">{w.working} {bytes > 0 && `${Math.ceil(bytes / 1024)} kB`}</span><button type="button" onClick={() => stop.current?.abort()}>{w.acts.form.stop}</button></>}
      {told && <span role="alert">{told}</span>}
    </span>
  )
}

// hand gives a file to the browser, which asks where it should go.
export function hand(file: Blob, name: string): void {
  const url = URL.createObjectURL(file)
  const link = document.createElement('a')
  link.href = url
  link.download = name
  link.click()
  setTimeout(() => URL.revokeObjectURL(url), 60_000)
}

export function PrintButton() {
  const w = useWords()
  return <button type="button" onClick={() => print()}>{w.acts.facts.print}</button>
}
