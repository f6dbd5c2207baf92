
' ---- From here on the text is the same for LibreOffice Basic and for Excel VBA. ----

' One result of one calculation. Inputs: two columns of names and values, or the text of a query.
Function BwValue(calculation As String, field As String, inputs As Variant) As Variant
  BwValue = BwAsk(calculation, field, BwQuery(inputs))
End Function

Function BwAsk(calculation As String, field As String, query As String) As Variant
  Dim url As String
  On Error GoTo Failed
  url = BwAddress() & "/v1/" & calculation & "/value?errors=inline"
  If field <> "" Then url = url & "&field=" & BwEncode(field)
  BwAsk = BwNumber(BwGet(url & query))
  Exit Function
Failed:
  BwAsk = "#ERR no answer from " & BwAddress()
End Function

' Inputs as the end of an address: &bore=4.155&stroke=3.9
Function BwQuery(inputs As Variant) As String
  Dim cells As Variant, down As Long, first As Long, out As String
  cells = BwCells(inputs)
  If Not IsArray(cells) Then
    If cells <> "" Then BwQuery = "&" & cells
    Exit Function
  End If
  first = LBound(cells, 2)
  For down = LBound(cells, 1) To UBound(cells, 1)
    out = out & BwPair("" & cells(down, first), cells(down, first + 1))
  Next down
  BwQuery = out
End Function

' &name=value, or nothing when there is no value.
Function BwPair(name As String, value As Variant) As String
  Dim text As String
  text = BwText(BwOne(value))
  If name <> "" And text <> "" Then BwPair = "&" & name & "=" & BwEncode(text)
End Function

' A cell that a formula names may arrive as a table of one.
Function BwOne(value As Variant) As Variant
  Dim cells As Variant
  cells = BwCells(value)
  If IsArray(cells) Then
    BwOne = cells(LBound(cells, 1), LBound(cells, 2))
  Else
    BwOne = cells
  End If
End Function

' A cell's value as the service reads it: numbers with a point, whatever the country.
Function BwText(value As Variant) As String
  Select Case VarType(value)
    Case 0, 1
      BwText = ""
    Case 8
      BwText = Trim(value)
    Case 11
      If value Then
        BwText = "true"
      Else
        BwText = "false"
      End If
    Case Else
      BwText = Trim(Str(value))
  End Select
End Function

' A text from the service as a number, if it is one.
Function BwNumber(text As String) As Variant
  If BwIsNumber(text) Then
    BwNumber = Val(text)
  Else
    BwNumber = text
  End If
End Function

Function BwIsNumber(text As String) As Boolean
  Dim place As Long, letter As String, digits As Long, points As Long, exponent As Boolean
  For place = 1 To Len(text)
    letter = Mid(text, place, 1)
    If letter >= "0" And letter <= "9" Then
      digits = digits + 1
    ElseIf letter = "." Then
      points = points + 1
      If points > 1 Or exponent Then Exit Function
    ElseIf InStr(1, "eE", letter, 0) > 0 Then
      If exponent Or digits = 0 Then Exit Function
      exponent = True
      digits = 0
    ElseIf InStr(1, "+-", letter, 0) > 0 Then
      If place > 1 Then
        If InStr(1, "eE", Mid(text, place - 1, 1), 0) = 0 Then Exit Function
      End If
    Else
      Exit Function
    End If
  Next place
  BwIsNumber = digits > 0
End Function

' Answers a whole table with one call: a header of names, then rows. Constants count for every row: units=inch
' Gives the table back with the results in further columns; the last one, error, is empty where all is well.
Function BwTable(calculation As String, constants As String, cells As Variant) As Variant
  Dim url As String
  On Error GoTo Failed
  url = BwAddress() & "/v1/" & calculation & "/table?errors=inline"
  If constants <> "" Then url = url & "&" & constants
  BwTable = BwFromCsv(BwPost(url, "text/csv", BwCsv(BwCells(cells))))
  Exit Function
Failed:
  BwTable = BwFromCsv("error" & Chr(10) & "#ERR no answer from " & BwAddress())
End Function

' A table as CSV: commas, quotes where they are needed.
Function BwCsv(cells As Variant) As String
  Dim down As Long, across As Long, lines() As String, parts() As String, text As String
  ReDim lines(0 To UBound(cells, 1) - LBound(cells, 1))
  For down = LBound(cells, 1) To UBound(cells, 1)
    ReDim parts(0 To UBound(cells, 2) - LBound(cells, 2))
    For across = LBound(cells, 2) To UBound(cells, 2)
      text = BwText(cells(down, across))
      If InStr(1, text, ",", 0) + InStr(1, text, """", 0) + InStr(1, text, Chr(10), 0) + InStr(1, text, Chr(13), 0) > 0 Then
        text = """" & Replace(text, """", """""") & """"
      End If
      parts(across - LBound(cells, 2)) = text
    Next across
    lines(down - LBound(cells, 1)) = Join(parts, ",")
  Next down
  BwCsv = Join(lines, Chr(13) & Chr(10)) & Chr(13) & Chr(10)
End Function

' CSV as a table, from 1; numbers become numbers. The first line says how many columns there are.
Function BwFromCsv(csv As String) As Variant
  Dim lines As Variant, fields As Variant, table() As Variant, down As Long, across As Long, columns As Long, text As String
  text = Replace(csv, Chr(13) & Chr(10), Chr(10))
  Do While Right(text, 1) = Chr(10)
    text = Left(text, Len(text) - 1)
  Loop
  lines = BwLines(text)
  columns = UBound(BwFields("" & lines(0))) + 1
  ReDim table(1 To UBound(lines) + 1, 1 To columns)
  For down = 0 To UBound(lines)
    fields = BwFields("" & lines(down))
    For across = 0 To columns - 1
      table(down + 1, across + 1) = ""
      If across <= UBound(fields) Then table(down + 1, across + 1) = BwNumber("" & fields(across))
    Next across
  Next down
  BwFromCsv = table
End Function

' The lines of a text; a line end between quotes does not end a line.
Function BwLines(text As String) As Variant
  Dim pieces As Variant, lines() As String, count As Long, place As Long, quotes As Long
  pieces = Split(text, Chr(10))
  If InStr(1, text, """", 0) = 0 Then
    BwLines = pieces
    Exit Function
  End If
  ReDim lines(0 To UBound(pieces))
  count = -1
  For place = 0 To UBound(pieces)
    If quotes Mod 2 = 0 Then
      count = count + 1
      lines(count) = pieces(place)
      quotes = 0
    Else
      lines(count) = lines(count) & Chr(10) & pieces(place)
    End If
    quotes = quotes + Len(pieces(place)) - Len(Replace(pieces(place), """", ""))
  Next place
  ReDim Preserve lines(0 To count)
  BwLines = lines
End Function

' The fields of a line, quotes taken off.
Function BwFields(text As String) As Variant
  Dim pieces As Variant, fields() As String, count As Long, place As Long, quotes As Long
  pieces = Split(text, ",")
  If InStr(1, text, """", 0) = 0 Then
    If text = "" Then pieces = Array("")
    BwFields = pieces
    Exit Function
  End If
  ReDim fields(0 To UBound(pieces))
  count = -1
  For place = 0 To UBound(pieces)
    If quotes Mod 2 = 0 Then
      count = count + 1
      fields(count) = pieces(place)
      quotes = 0
    Else
      fields(count) = fields(count) & "," & pieces(place)
    End If
    quotes = quotes + Len(pieces(place)) - Len(Replace(pieces(place), """", ""))
  Next place
  ReDim Preserve fields(0 To count)
  For place = 0 To count
    If Left(fields(place), 1) = """" And Right(fields(place), 1) = """" And Len(fields(place)) > 1 Then
      fields(place) = Replace(Mid(fields(place), 2, Len(fields(place)) - 2), """""", """")
    End If
  Next place
  BwFields = fields
End Function

' The names of all calculations that a cell can call.
Function BwCalculations() As Variant
  BwCalculations = BwFromCsv(BwCalculationList())
End Function

' What a calculation takes: name, whether it is required, the unit of a bare number with inch and with metric.
Function BwInputs(calculation As String) As Variant
  BwInputs = BwFromCsv("input,required,inch,metric" & Chr(10) & BwInputList(calculation))
End Function

' What a calculation gives: name and unit with inch and with metric.
Function BwResults(calculation As String) As Variant
  BwResults = BwFromCsv("result,inch,metric" & Chr(10) & BwResultList(calculation))
End Function

' Tries the text handling and a running service; gives "ok", or what is wrong.
Function BwSelfTest() As String
  Dim cells(1 To 3, 1 To 2) As Variant, back As Variant, query As String, one As Variant
  On Error GoTo Failed
  BwSelfTest = BwTextTest()
  If BwSelfTest <> "ok" Then Exit Function
  query = "&units=inch&cylinders=8&bore=4.25&stroke=4.125"
  one = BwAsk("geometry/displacement", "displacement", query)
  ' V = cylinders * pi / 4 * bore ^ 2 * stroke
  If Not BwNear(one, 8 * Atn(1) * 4.25 * 4.25 * 4.125) Then BwSelfTest = "a value is wrong: " & one
  one = BwAsk("geometry/displacement", "displacement", query & "&bor=1")
  If Left(one, 9) <> "#ERR bor " Then BwSelfTest = "a wrong name is not refused: " & one
  cells(1, 1) = "bore [mm]"
  cells(1, 2) = "stroke"
  cells(2, 1) = 107.95
  cells(2, 2) = 4.125
  cells(3, 1) = -0.125
  cells(3, 2) = "4 in"
  back = BwTable("geometry/displacement", "units=inch&cylinders=8", cells)
  If UBound(back, 1) <> 3 Then
    BwSelfTest = "a table has the wrong number of rows: " & UBound(back, 1) & " " & back(UBound(back, 1), 1)
    Exit Function
  End If
  one = back(2, BwColumn(back, "displacement [in3]"))
  If Not BwNear(one, 8 * Atn(1) * 4.25 * 4.25 * 4.125) Then BwSelfTest = "a row is wrong: " & one
  one = back(3, BwColumn(back, "error"))
  If Left(one, 10) <> "#ERR bore " Then BwSelfTest = "a wrong row is not refused: " & one
  Exit Function
Failed:
  BwSelfTest = "error " & Err & ": " & Error
End Function

' The text handling, without a service.
Function BwTextTest() As String
  Dim cells(1 To 2, 1 To 3) As Variant, back As Variant, csv As String
  BwTextTest = "ok"
  If BwText(-0.125) <> "-.125" And BwText(-0.125) <> "-0.125" Then BwTextTest = "number: " & BwText(-0.125)
  If BwText(4.155) <> "4.155" Or BwText(" 64 cc ") <> "64 cc" Or BwText(True) <> "true" Then BwTextTest = "text: " & BwText(4.155)
  If BwNumber("1.2340") <> 1.234 Or BwNumber("-1.5e-3") <> -0.0015 Or BwNumber("468") <> 468 Then BwTextTest = "number back"
  If BwIsNumber("4 in") Or BwIsNumber("-") Or BwIsNumber("e5") Or BwIsNumber("1e") Or BwIsNumber("") Or BwIsNumber("1.2.3") Then BwTextTest = "no number"
  If BwIsNumber("2026-01-02") Or Not BwIsNumber("-1E+05") Then BwTextTest = "no number but a date"
  If BwEncode("4 in&" & ChrW(228)) <> "4%20in%26%C3%A4" Then BwTextTest = "encoding: " & BwEncode("4 in&" & ChrW(228))
  cells(1, 1) = "a"
  cells(1, 2) = "b, ""c"""
  cells(1, 3) = "d" & Chr(10) & "e"
  cells(2, 1) = 0.5
  cells(2, 3) = "plain"
  csv = BwCsv(cells)
  back = BwFromCsv(csv)
  If UBound(back, 1) <> 2 Or UBound(back, 2) <> 3 Then
    BwTextTest = "table of " & UBound(back, 1) & " by " & UBound(back, 2)
  ElseIf back(1, 2) <> "b, ""c""" Or back(1, 3) <> "d" & Chr(10) & "e" Or back(2, 1) <> 0.5 Or back(2, 2) <> "" Or back(2, 3) <> "plain" Then
    BwTextTest = "table: " & csv
  End If
End Function

Function BwNear(value As Variant, wanted As Double) As Boolean
  If VarType(value) = 8 Then Exit Function
  BwNear = Abs(value - wanted) < 0.000000001 * Abs(wanted)
End Function

Function BwColumn(table As Variant, title As String) As Long
  Dim across As Long
  For across = 1 To UBound(table, 2)
    If table(1, across) = title Then BwColumn = across
  Next across
End Function
