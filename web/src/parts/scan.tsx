// The camera as a reader of codes, where the browser has one built in. Where it has none, a sentence says so.

import { useEffect, useRef, useState } from 'preact/hooks'
import { useWords } from '../words/words'

interface Detector { detect(from: HTMLVideoElement): Promise<{ rawValue: string }[]> }
declare global {
  interface Window { BarcodeDetector?: new (o: { formats: string[] }) => Detector }
}

export function Scan({ label, onCode }: { label: string; onCode: (text: string) => void }) {
  const w = useWords()
  const [on, setOn] = useState(false)
  const [refused, setRefused] = useState(false)
  if (!window.BarcodeDetector || !navigator.mediaDevices?.getUserMedia) return <p class="note">{w.look.noCamera}</p>
  if (refused) return <p class="note" role="alert">{w.look.cameraRefused}</p>
  if (!on) return <p><button type="button" onClick={() => setOn(true)}>{label}</button></p>
  return <Camera onStop={() => setOn(false)} onRefused={() => setRefused(true)} onCode={text => { setOn(false); onCode(text) }} />
}

function Camera({ onCode, onStop, onRefused }: { onCode: (text: string) => void; onStop: () => void; onRefused: () => void }) {
  const w = useWords()
  const video = useRef<HTMLVideoElement>(null)
  useEffect(() => {
    let stream: MediaStream | undefined
    let over = false
    const look = async () => {
      stream = await navigator.mediaDevices.getUserMedia({ video: { facingMode: 'environment' } })
      if (over || !video.current) return
      video.current.srcObject = stream
      await video.current.play()
      const detector = new window.BarcodeDetector!({ formats: ['qr_code'] })
      while (!over) {
        const found = await detector.detect(video.current).catch(() => [])
        if (found[0] && !over) return onCode(found[0].rawValue)
        await new Promise(resolve => setTimeout(resolve, 250))
      }
    }
    look().catch(() => !over && onRefused()).finally(() => over && stream?.getTracks().forEach(t => t.stop()))
    return () => {
      over = true
      stream?.getTracks().forEach(t => t.stop())
    }
  }, [])
  return (
    <div class="scan">
      <p>{w.look.point}</p>
      <video ref={video} muted playsInline />
      <button type="button" onClick={onStop}>{w.look.stopScan}</button>
    </div>
  )
}
