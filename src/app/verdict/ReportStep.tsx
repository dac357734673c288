export default function ReportStep() {
  return null;
}
