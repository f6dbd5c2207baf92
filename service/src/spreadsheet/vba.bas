Attribute VB_Name = "Blockwright"
' Blockwright for Excel VBA. Made by: blockwright spreadsheet vba
'
' Install: in the editor (Alt+F11) File - Import this file. The service's address is in BW_ADDRESS below; a defined name
' ServiceAddress in the active workbook goes before it. Windows only: BwHttp uses a part of Windows.
'
'   in a cell       =BwValue("compression/static", "static_ratio", A2:B9)        names in A, values in B
'                   =BwValue("compression/static", "static_ratio", "units=inch&bore=4.155&...")
'                   =Bw_compression_static("static_ratio", "inch", 4.155, 3.9, 70.5, 0.041, 0.01, "gasket_bore=4.2")
'   what it takes   =BwInputs("compression/static")   =BwResults("compression/static")   =BwCalculations()
'   a whole table   select it with its header of names (a unit may follow: bore [mm]), then run BwTableOfSelection:
'                   one call answers all rows; or as an array formula =BwTable("compression/static", "units=inch", A1:F500)
'   does it work?   run BwShowSelfTest
'
' Numbers go out and come in with a decimal point whatever the country. What is refused comes back as a text that begins
' with #ERR. Read the cautions: nothing here replaces measuring the parts and a qualified machinist.
Option Explicit

Const BW_ADDRESS = "http://127.0.0.1:8080"

Private bwAddressInUse As String

' Takes another address until the workbook is closed.
Public Sub BwUseAddress(address As String)
  bwAddressInUse = address
End Sub

Public Function BwAddress() As String
  BwAddress = bwAddressInUse
  If BwAddress <> "" Then Exit Function
  BwAddress = BW_ADDRESS
  On Error Resume Next
  BwAddress = ActiveWorkbook.Names("ServiceAddress").RefersToRange.Value
End Function

' A range that a cell formula names arrives as an object.
Public Function BwCells(inputs As Variant) As Variant
  If IsObject(inputs) Then
    BwCells = inputs.Value
  Else
    BwCells = inputs
  End If
End Function

' Percent signs for everything but letters, digits and -._~ (UTF-8, as far as two bytes and three go).
Public Function BwEncode(text As String) As String
  Dim place As Long, code As Long, out As String
  For place = 1 To Len(text)
    code = AscW(Mid(text, place, 1)) And 65535
    If code < 128 And InStr(1, "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789-._~", ChrW(code), 0) > 0 Then
      out = out & ChrW(code)
    ElseIf code < 128 Then
      out = out & BwByte(code)
    ElseIf code < 2048 Then
      out = out & BwByte(192 + code \ 64) & BwByte(128 + code Mod 64)
    Else
      out = out & BwByte(224 + code \ 4096) & BwByte(128 + (code \ 64) Mod 64) & BwByte(128 + code Mod 64)
    End If
  Next place
  BwEncode = out
End Function

Private Function BwByte(code As Long) As String
  BwByte = "%" & Right("0" & Hex(code), 2)
End Function

Public Function BwGet(url As String) As String
  BwGet = BwHttp("GET", url, "", "")
End Function

Public Function BwPost(url As String, media As String, body As String) As String
  BwPost = BwHttp("POST", url, media, body)
End Function

Public Function BwHttp(method As String, url As String, media As String, body As String) As String
  With CreateObject("MSXML2.ServerXMLHTTP.6.0")
    .setTimeouts 5000, 5000, 30000, 60000
    .Open method, url, False
    If media <> "" Then .setRequestHeader "Content-Type", media
    .send body
    BwHttp = .responseText
  End With
End Function

' Asks what to compute, then fills the selected table.
Public Sub BwTableOfSelection()
  Dim calculation As String, constants As String, answer As Variant, given As Long, down As Long, across As Long
  calculation = InputBox("Which calculation? One of BwCalculations, such as compression/static", "Blockwright", "compression/static")
  If calculation = "" Then Exit Sub
  constants = InputBox("What is the same in every row?", "Blockwright", "units=inch")
  answer = BwTable(calculation, constants, Selection.Value)
  given = Selection.Columns.Count
  If UBound(answer, 2) < given + 1 Then
    MsgBox answer(UBound(answer, 1), 1)
    Exit Sub
  End If
  For down = 1 To UBound(answer, 1)
    For across = given + 1 To UBound(answer, 2)
      Selection.Cells(down, across).Value = answer(down, across)
    Next across
  Next down
End Sub

Public Sub BwShowSelfTest()
  MsgBox BwSelfTest()
End Sub
