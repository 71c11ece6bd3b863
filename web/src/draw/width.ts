// The room that a drawing has.

import { useEffect, useState } from 'preact/hooks'

// useWidth measures the room there is, so that the letters of a drawing are as large as all others, and measures again
// when the phone is turned. Before it has measured, it gives the width it is told.
export function useWidth(before = 330): [number, (e: Element | null) => void] {
  const [width, setWidth] = useState(before)
  const [frame, setFrame] = useState<Element | null>(null)
  useEffect(() => {
    if (!frame) return
    const measure = () => setWidth(Math.max(280, frame.clientWidth))
    measure()
    addEventListener('resize', measure)
    return () => removeEventListener('resize', measure)
  }, [frame])
  return [width, setFrame]
}
