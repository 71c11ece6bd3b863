// A drawing of the service, shown from memory because a page may not load pictures with the phone's right to read.

import { useEffect, useState } from 'preact/hooks'
import { getBlob } from '../book/http'
import { useBook } from '../book/state'
import { useWords } from '../words/words'

export function Picture({ path, alt }: { path: string; alt: string }) {
  const w = useWords()
  const { token } = useBook()
  const [url, setUrl] = useState('')
  const [far, setFar] = useState(false)
  useEffect(() => {
    let made = ''
    let over = false
    setFar(false)
    getBlob(path, token).then(blob => { made = URL.createObjectURL(blob); if (!over) setUrl(made) }).catch(() => !over && setFar(true))
    return () => { over = true; if (made) URL.revokeObjectURL(made) }
  }, [path, token])
  if (far) return <p class="stale">{w.acts.form.online}</p>
  return url ? <div class="wide-picture" tabIndex={0} role="group" aria-label={alt}><img src={url} alt={alt} /></div> : <p role="status">{w.working}</p>
}

// PdfButton fetches a paper and hands it to the browser.
export function PdfButton({ path, name, children }: { path: string; name: string; children: string }) {
  const w = useWords()
  const { token } = useBook()
  const [state, setState] = useState<'' | 'busy' | 'far'>('')
  const fetchIt = async () => {
    setState('busy')
    try {
      const url = URL.createObjectURL(await getBlob(path, token))
      const link = document.createElement('a')
      link.href = url
      link.download = name
      link.click()
      setTimeout(() => URL.revokeObjectURL(url), 60_000)
      setState('')
    } catch {
      setState('far')
    }
  }
  return <><button type="button" disabled={state === 'busy'} onClick={() => void fetchIt()}>{state === 'busy' ? w.working : children}</button>{state === 'far' && <span role="alert">{w.acts.form.online}</span>}</>
}

export function PrintButton() {
  const w = useWords()
  return <button type="button" onClick={() => print()}>{w.acts.facts.print}</button>
}
