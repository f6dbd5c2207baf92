Option Explicit

' What the tests let the office do. Every entry writes a report and traps its errors: an error box would hang a headless office.

Dim calls As Long

' Opens a document with its links updated, types into cells as a user would, computes, and stores it in another form.
Sub Recalculate(source As String, typed As String, target As String, filter As String, report As String)
  Dim document As Object, started As Long, took As Long, line As Variant, part As Variant
  On Error GoTo Failed
  started = GetSystemTicks()
  document = StarDesktop.loadComponentFromURL(source, "_blank", 0, _
    Array(Setting("Hidden", True), Setting("UpdateDocMode", 3), Setting("MacroExecutionMode", 4)))
  ' Links are updated once the office gets a moment of its own.
  Wait 100
  For Each line In Split(ReadText(typed), Chr(10))
    If line <> "" Then
      part = Split(line, Chr(9))
      document.Sheets.getByName(part(0)).getCellRangeByName(part(1)).FormulaLocal = part(2)
      Wait 1
    End If
  Next line
  document.calculate()
  took = GetSystemTicks() - started
  document.storeToURL(target, Array(Setting("FilterName", filter)))
  document.close(True)
  WriteReport(report, "milliseconds" & Chr(9) & took & Chr(10) & "end")
  Exit Sub
Failed:
  WriteReport(report, "error " & Err & " in line " & Erl & ": " & Error)
End Sub

' Writes formulas into a new document, line by line "cell, tab, formula", and reads what they give.
Sub Cells(address As String, formulas As String, report As String)
  Dim document As Object, sheet As Object, cell As Object, line As Variant, part As Variant, text As String
  On Error GoTo Failed
  document = NewDocument()
  sheet = document.Sheets.getByIndex(0)
  Blockwright.BwUseAddress(address)
  For Each line In Split(ReadText(formulas), Chr(10))
    If line <> "" Then
      part = Split(line, Chr(9))
      If Left(part(1), 1) = "{" Then
        sheet.getCellRangeByName(part(0)).setArrayFormula(Mid(part(1), 2, Len(part(1)) - 2))
      Else
        sheet.getCellRangeByName(part(0)).setFormula(part(1))
      End If
    End If
  Next line
  For Each line In Split(ReadText(formulas), Chr(10))
    If line <> "" Then
      part = Split(line, Chr(9))
      cell = sheet.getCellRangeByName(part(0)).getCellByPosition(0, 0)
      text = text & part(0) & Chr(9) & Shown(cell) & Chr(10)
    End If
  Next line
  document.close(True)
  WriteReport(report, text & "end")
  Exit Sub
Failed:
  WriteReport(report, text & "error " & Err & " in line " & Erl & ": " & Error)
End Sub

' Kind and content, a number with a point in every country.
Function Shown(cell As Object) As String
  If cell.getError() <> 0 Then
    Shown = "error" & Chr(9) & cell.String
  ElseIf cell.FormulaResultType2 = com.sun.star.sheet.FormulaResult.VALUE Or cell.Type = com.sun.star.table.CellContentType.VALUE Then
    Shown = "number" & Chr(9) & Trim(Str(cell.Value))
  Else
    Shown = "text" & Chr(9) & cell.String
  End If
End Function

' A hundred cells, each with an address of its own; three times, in new documents, for one asks every address only once.
Sub HundredCells(address As String, report As String)
  Dim text As String, turn As Long
  On Error GoTo Failed
  For turn = 1 To 3
    text = text & AskHundred(address) & Chr(10)
  Next turn
  WriteReport(report, text & "end")
  Exit Sub
Failed:
  WriteReport(report, text & "error " & Err & " in line " & Erl & ": " & Error)
End Sub

Function AskHundred(address As String) As String
  Dim document As Object, sheet As Object, rows(99) As Variant, row As Long, started As Long, took As Long, url As String
  Dim numbers As Long
  document = NewDocument()
  sheet = document.Sheets.getByIndex(0)
  For row = 0 To 99
    url = "WEBSERVICE(""" & address & "/v1/geometry/displacement/value?errors=inline&units=inch&cylinders=8&stroke=4&bore=" & Trim(Str(2 + row / 64)) & """)"
    rows(row) = Array("=IFERROR(NUMBERVALUE(" & url & ";""."";"","");" & url & ")")
  Next row
  started = GetSystemTicks()
  sheet.getCellRangeByName("A1:A100").setFormulaArray(rows)
  document.calculate()
  For row = 0 To 99
    If Left(Shown(sheet.getCellByPosition(0, row)), 6) = "number" Then numbers = numbers + 1
  Next row
  took = GetSystemTicks() - started
  document.close(True)
  AskHundred = took & Chr(9) & numbers
End Function

' A table of a thousand rows, one of them wrong, by the Basic module or by the Python macro.
Sub ThousandRows(address As String, means As String, report As String)
  Dim document As Object, sheet As Object, rows(1000) As Variant, row As Long, started As Long, took As Long, cells As Object
  Dim text As String, answer As Variant, said As String, across As Long
  On Error GoTo Failed
  document = NewDocument()
  sheet = document.Sheets.getByIndex(0)
  rows(0) = Array("units", "cylinders", "bore [mm]", "stroke")
  For row = 1 To 1000
    rows(row) = Array("inch", 8, 50 + row / 16, 4.125)
  Next row
  rows(500) = Array("inch", 8, -0.125, 4.125)
  cells = sheet.getCellRangeByName("B2:E1002")
  cells.setDataArray(rows)
  started = GetSystemTicks()
  If means = "python" Then
    said = PythonScript("fill_table").invoke(Array(cells, "geometry/displacement"), Array(), Array())
  Else
    Blockwright.BwUseAddress(address)
    said = Blockwright.BwFillTable(cells, "geometry/displacement", "")
  End If
  took = GetSystemTicks() - started
  text = "milliseconds" & Chr(9) & took & Chr(10) & "said" & Chr(9) & said & Chr(10)
  answer = sheet.getCellRangeByName("F2:AF1002").getDataArray()
  For row = 0 To 1000
    For across = 0 To UBound(answer(row))
      If VarType(answer(row)(across)) = 8 Then
        text = text & answer(row)(across) & Chr(9)
      Else
        text = text & Trim(Str(answer(row)(across))) & Chr(9)
      End If
    Next across
    text = text & Chr(10)
  Next row
  document.close(True)
  WriteReport(report, text & "end")
  Exit Sub
Failed:
  WriteReport(report, text & "error " & Err & " in line " & Erl & ": " & Error)
End Sub

Function PythonScript(name As String) As Object
  Dim provider As Object
  provider = createUnoService("com.sun.star.script.provider.MasterScriptProviderFactory").createScriptProvider("")
  PythonScript = provider.getScript("vnd.sun.star.script:blockwright.py$" & name & "?language=Python&location=user")
End Function

' All modules' own tests. The second module's call to a part of Windows is replaced by the office's, and counted.
Sub SelfTests(address As String, report As String)
  Dim text As String, document As Object, place As Object
  On Error GoTo Failed
  Blockwright.BwUseAddress(address)
  BlockwrightVba.BwUseAddress(address)
  text = "basic" & Chr(9) & Blockwright.BwSelfTest() & Chr(10)
  calls = 0
  text = text & "vba" & Chr(9) & BlockwrightVba.BwSelfTest() & Chr(10)
  text = text & "vba calls" & Chr(9) & calls & Chr(10)
  text = text & "python" & Chr(9) & PythonScript("self_test").invoke(Array(), Array(), Array()) & Chr(10)
  Blockwright.BwUseAddress("http://127.0.0.1:9")
  text = text & "nobody" & Chr(9) & Blockwright.BwValue("geometry/displacement", "bore", "units=inch") & Chr(10)
  document = NewDocument()
  text = text & "unnamed" & Chr(9) & Blockwright.BwAddressIn(document) & Chr(10)
  place = document.Sheets.getByIndex(0).getCellRangeByName("C7")
  place.String = address
  document.NamedRanges.addNewByName("ServiceAddress", "$" & document.Sheets.getByIndex(0).Name & ".$C$7", place.CellAddress, 0)
  text = text & "named" & Chr(9) & Blockwright.BwAddressIn(document) & Chr(10)
  document.close(True)
  WriteReport(report, text & "end")
  Exit Sub
Failed:
  WriteReport(report, text & "error " & Err & " in line " & Erl & ": " & Error)
End Sub

Function OfficeHttp(method As String, url As String, media As String, body As String) As String
  calls = calls + 1
  If method = "GET" Then
    OfficeHttp = Blockwright.BwGet(url)
  Else
    OfficeHttp = Blockwright.BwPost(url, media, body)
  End If
End Function

Function NewDocument() As Object
  NewDocument = StarDesktop.loadComponentFromURL("private:factory/scalc", "_blank", 0, Array(Setting("Hidden", True)))
End Function

Function Setting(name As String, value As Variant) As Object
  Dim made As New com.sun.star.beans.PropertyValue
  made.Name = name
  made.Value = value
  Setting = made
End Function

Function ReadText(url As String) As String
  Dim stream As Object
  stream = createUnoService("com.sun.star.io.TextInputStream")
  stream.setInputStream(createUnoService("com.sun.star.ucb.SimpleFileAccess").openFileRead(url))
  stream.setEncoding("UTF-8")
  ReadText = stream.readString(Array(), False)
  stream.closeInput()
End Function

Sub WriteReport(url As String, text As String)
  Dim stream As Object, files As Object
  files = createUnoService("com.sun.star.ucb.SimpleFileAccess")
  stream = createUnoService("com.sun.star.io.TextOutputStream")
  If files.exists(url) Then files.kill(url)
  stream.setOutputStream(files.openFileWrite(url))
  stream.setEncoding("UTF-8")
  stream.writeString(text)
  stream.closeOutput()
End Sub
