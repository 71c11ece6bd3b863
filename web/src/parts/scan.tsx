// The camera as a reader of codes: the browser's own reader where it has one, ours where it has none. A picture of the
// label does as well, also on an address where browsers give pages no camera.

import { useEffect, useRef, useState } from 'preact/hooks'
import { useWords } from '../words/words'

interface Detector { detect(from: CanvasImageSource): Promise<{ rawValue: string }[]> }
interface DetectorClass {
  new (o: { formats: string[] }): Detector
  getSupportedFormats?(): Promise<string[]>
}
declare global {
  interface Window { BarcodeDetector?: DetectorClass }
}

type Read = (from: HTMLVideoElement | ImageBitmap, width: number, height: number) => Promise<string | undefined>

// reader gives the browser's own reader if it reads QR codes, or else ours.
async function reader(): Promise<Read> {
  const formats: string[] | undefined = await window.BarcodeDetector?.getSupportedFormats?.().catch(() => [])
  if (window.BarcodeDetector && formats?.includes('qr_code')) {
    const detector = new window.BarcodeDetector({ formats: ['qr_code'] })
    return async from => (await detector.detect(from).catch(() => []))[0]?.rawValue
  }
  const { decode } = await import('./decode')
  const canvas = document.createElement('canvas')
  const pen = canvas.getContext('2d', { willReadFrequently: true })!
  return async (from, width, height) => {
    const shrink = Math.min(1, 1200 / Math.max(width, height, 1)) // enough for a label, and an old phone keeps up
    canvas.width = Math.round(width * shrink)
    canvas.height = Math.round(height * shrink)
    if (!canvas.width || !canvas.height) return undefined
    pen.drawImage(from, 0, 0, canvas.width, canvas.height)
    return decode(pen.getImageData(0, 0, canvas.width, canvas.height))
  }
}

export function Scan({ label, onCode }: { label: string; onCode: (text: string) => void }) {
  const w = useWords()
  const [on, setOn] = useState(false)
  const [told, setTold] = useState('')
  const camera = !!navigator.mediaDevices?.getUserMedia
  const file = useRef<HTMLInputElement>(null)

  const picture = async (chosen: File | undefined) => {
    if (!chosen) return
    setTold(w.working)
    try {
      const [read, bitmap] = await Promise.all([reader(), createImageBitmap(chosen)])
      const text = await read(bitmap, bitmap.width, bitmap.height)
      setTold(text ? '' : w.look.noCodeInPicture)
      if (text) onCode(text)
    } catch {
      setTold(w.look.noPicture)
    }
    if (file.current) file.current.value = ''
  }
  return (
    <div class="scan">
      {on && <Camera onStop={() => setOn(false)} onRefused={() => { setOn(false); setTold(w.look.cameraRefused) }} onCode={text => { setOn(false); onCode(text) }} />}
      <p class="acts">
        {camera && !on && <button type="button" onClick={() => { setTold(''); setOn(true) }}>{label}</button>}
        <button type="button" onClick={() => file.current?.click()}>{w.look.takePicture}</button>
      </p>
      <input ref={file} hidden type="file" accept="image/*" capture="environment" aria-label={w.look.takePicture} onChange={e => void picture(e.currentTarget.files?.[0])} />
      {!camera && <p class="note">{w.look.noCamera}</p>}
      {told && <p class="note" role="alert">{told}</p>}
    </div>
  )
}

function Camera({ onCode, onStop, onRefused }: { onCode: (text: string) => void; onStop: () => void; onRefused: () => void }) {
  const w = useWords()
  const video = useRef<HTMLVideoElement>(null)
  useEffect(() => {
    let stream: MediaStream | undefined
    let over = false
    const look = async () => {
      stream = await navigator.mediaDevices.getUserMedia({ video: { facingMode: 'environment', width: { ideal: 1280 } } })
      const from = video.current
      if (over || !from) return
      from.srcObject = stream
      await from.play()
      const read = await reader()
      while (!over) {
        const text = await read(from, from.videoWidth, from.videoHeight)
        if (text && !over) return onCode(text)
        await new Promise(resolve => setTimeout(resolve, 200))
      }
    }
    look().catch(() => !over && onRefused()).finally(() => over && stream?.getTracks().forEach(t => t.stop()))
    return () => {
      over = true
      stream?.getTracks().forEach(t => t.stop())
    }
  }, [])
  return (
    <div>
      <p>{w.look.point}</p>
      <video ref={video} muted playsInline />
      <button type="button" onClick={onStop}>{w.look.stopScan}</button>
    </div>
  )
}
