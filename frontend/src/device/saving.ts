/** Handing a file out of the app: by the phone's own sharing where there is one, else as a download. */
export async function saveFile(name: string, text: string): Promise<void> {
  const blob = new Blob([text], { type: "application/json" });
  const file = new File([blob], name, { type: blob.type });
  if (typeof navigator.canShare === "function" && navigator.canShare({ files: [file] })) {
    try {
      await navigator.share({ files: [file], title: name });
      return;
    } catch (error) {
      // Whoever closed the sharing meant not to; anything else falls back to a download.
      if ((error as { name?: string }).name === "AbortError") return;
    }
  }
  const link = document.createElement("a");
  link.href = URL.createObjectURL(blob);
  link.download = name;
  link.click();
  setTimeout(() => URL.revokeObjectURL(link.href), 60_000);
}
