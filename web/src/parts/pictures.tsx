// Pictures of a record: taking them, what waits of them, and looking at them again.

import { useEffect, useRef, useState } from 'preact/hooks'
import { getBlob } from '../book/http'
import { picture } from '../book/keep'
import { sizeOf, take, Unreadable, type Taken } from '../book/picture'
import type { Picture } from '../book/queue'
import { useBook } from '../book/state'
import { goOnSending, stopSending } from '../book/sync'
import { useWords } from '../words/words'
import { Name } from './page'
import { FileButton } from './picture'

const most = 20
const mostBytes = 20 << 20 // what the book takes of one file

export interface PicturesDraft { taken: Taken[]; busy: boolean; told: '' | 'unreadable' | 'large' | 'many'; add: (files: File[], camera: boolean) => void; drop: (hash: string) => void }

// usePictures holds the pictures of a record that is being written.
export function usePictures(): PicturesDraft {
  const [taken, setTaken] = useState<Taken[]>([])
  const [busy, setBusy] = useState(false)
  const [told, setTold] = useState<PicturesDraft['told']>('')
  const add = async (files: File[], camera: boolean) => {
    setBusy(true)
    setTold('')
    for (const file of files) {
      try {
        const made = await take(file, camera)
        if (made.bytes > mostBytes) setTold('large')
        else setTaken(all => (all.some(p => p.hash === made.hash) ? all : all.length < most ? [...all, made] : (setTold('many'), all)))
      } catch (e) {
        if (!(e instanceof Unreadable)) throw e
        setTold('unreadable')
      }
    }
    setBusy(false)
  }
  return { taken, busy, told, add: (files, camera) => void add(files, camera), drop: hash => setTaken(all => all.filter(p => p.hash !== hash)) }
}

export function PicturesField({ taken, busy, told, add, drop, hint }: PicturesDraft & { hint?: string }) {
  const w = useWords()
  const t = w.mend.pictures
  const camera = useRef<HTMLInputElement>(null)
  const chosen = useRef<HTMLInputElement>(null)
  const come = (input: HTMLInputElement, fromCamera: boolean) => {
    add([...(input.files ?? [])], fromCamera)
    input.value = ''
  }
  return (
    <fieldset class="pick">
      <legend>{t.title}</legend>
      {hint && <p class="note">{hint}</p>}
      {taken.length > 0 && (
        <ul class="pictures">
          {taken.map((p, i) => (
            <li key={p.hash}>
              <Bytes content={p.content} type={p.type} name={p.name} alt={t.one(i + 1)} />
              <span>{sizeOf(p.bytes)}</span>
              <button type="button" onClick={() => drop(p.hash)}>{t.drop}<span class="unseen"> {t.one(i + 1)}</span></button>
            </li>
          ))}
        </ul>
      )}
      <p class="acts">
        <button type="button" onClick={() => camera.current?.click()}>{t.take}</button>
        <button type="button" onClick={() => chosen.current?.click()}>{t.choose}</button>
      </p>
      <input ref={camera} hidden type="file" accept="image/*" capture="environment" aria-label={t.take} onChange={e => come(e.currentTarget, true)} />
      <input ref={chosen} hidden multiple type="file" accept="image/*,application/pdf" aria-label={t.choose} onChange={e => come(e.currentTarget, false)} />
      {busy && <p class="note" role="status">{t.working}</p>}
      {told && <p class="note" role="alert">{t[told]}</p>}
      <p class="note">{t.note}</p>
    </fieldset>
  )
}

function Bytes({ content, type, name, alt }: { content: ArrayBuffer; type: string; name: string; alt: string }) {
  const [url, setUrl] = useState('')
  useEffect(() => {
    const made = URL.createObjectURL(new Blob([content], { type }))
    setUrl(made)
    return () => URL.revokeObjectURL(made)
  }, [content])
  return type === 'application/pdf' ? <b><Name>{name}</Name></b> : url ? <img src={url} alt={alt} /> : null
}

// PicturesOf shows what belongs to a record: from this phone while it waits, from the book afterwards.
export function PicturesOf({ pictures, hashes }: { pictures?: Picture[]; hashes?: string[] }) {
  const w = useWords()
  const all: (Partial<Picture> & { hash: string })[] = pictures ?? (hashes ?? []).map(hash => ({ hash }))
  if (all.length === 0) return null
  return (
    <ul class="pictures" aria-label={w.mend.pictures.title}>
      {all.map((p, i) => <li key={p.hash}><One hash={p.hash} bytes={p.bytes} alt={w.mend.pictures.one(i + 1)} /></li>)}
    </ul>
  )
}

type Shown = { url?: string; content?: ArrayBuffer; paper?: boolean; far?: boolean }

// One is one picture. A small one comes first; the large one only when somebody asks for it.
function One({ hash, bytes, alt }: { hash: string; bytes?: number; alt: string }) {
  const w = useWords()
  const t = w.mend.pictures
  const { token, sent } = useBook()
  const [shown, setShown] = useState<Shown>({})
  const [large, setLarge] = useState(false)
  useEffect(() => {
    let over = false
    let url = ''
    const show = async () => {
      const mine = await picture(hash)
      const isPaper = mine && new TextDecoder().decode(mine.slice(0, 5)) === '%PDF-'
      if (mine && isPaper) return over || setShown({ paper: true })
      const blob = mine ? new Blob([mine], { type: 'image/jpeg' }) : await getBlob(`/v1/files/${hash}${large ? '' : '/thumbnail.jpg'}`, token)
      url = URL.createObjectURL(blob)
      if (over) URL.revokeObjectURL(url)
      else setShown({ url })
    }
    show().catch(e => over || setShown(e?.problem?.status === 404 ? { paper: true } : { far: true }))
    return () => { over = true; if (url) URL.revokeObjectURL(url) }
  }, [hash, large, token, sent.length])
  if (shown.paper) return <FileButton path={'/v1/files/' + hash} name={hash.slice(0, 12) + '.pdf'}>{t.paper}</FileButton>
  if (shown.far) return <span class="stale">{t.far}</span>
  if (!shown.url) return <span role="status">{w.working}</span>
  return (
    <>
      <img class={large ? 'large' : ''} src={shown.url} alt={alt} />
      {bytes ? <span>{sizeOf(bytes)}</span> : null}
      <button type="button" onClick={() => setLarge(!large)}>{large ? t.close : t.open}<span class="unseen"> {alt}</span></button>
    </>
  )
}

// Sending tells how far the pictures of an entry are, and lets a person stop them.
export function Sending({ id }: { id?: string }) {
  const w = useWords()
  const t = w.mend.pictures
  const { sendingNow, stopped } = useBook()
  if (stopped) return <div class="stale" role="status"><p>{t.stopped}</p><button type="button" onClick={goOnSending}>{t.goOn}</button></div>
  if (!sendingNow || (id && sendingNow.id !== id)) return null
  return (
    <div class="stale">
      <p><label>{t.sending(sizeOf(sendingNow.sent), sizeOf(sendingNow.of))} <progress max={sendingNow.of} value={sendingNow.sent} /></label></p>
      <button type="button" onClick={stopSending}>{t.stop}</button>
    </div>
  )
}
